"""The act by which a job is told how the file names of its drawings read."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator
from sqlmodel import Session

from ledger.acts.base import Act, Entry, put
from ledger.domain.name_patterns import read_file_names
from ledger.store.tables import FileNamesFact


class RecordFileNames(Act):
    """How file names of drawings read from now on; nothing where the whole name is the number."""

    concerns = ("file names", "of")
    kind: Literal["record_file_names"] = "record_file_names"
    of: Literal["drawings"] = "drawings"
    pattern: Annotated[str, AfterValidator(lambda text: text and read_file_names(text).written)] = ""

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, FileNamesFact(of=self.of, pattern=self.pattern))
