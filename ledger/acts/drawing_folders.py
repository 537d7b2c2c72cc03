"""The act by which a job keeps the folders that its drawings were taken from."""

from __future__ import annotations

import json
from typing import Literal

from sqlmodel import Session

from ledger.acts.base import Act, Entry, Text, put
from ledger.domain.errors import BadInput
from ledger.store.tables import DrawingFoldersFact


class RecordDrawingFolders(Act):
    """
    The folders that drawings are taken from, all of them, from now on; they are watched.

    A folder within that of the job's file is written from there, so that both can be moved together.
    """

    concerns = ("folders", "of")
    kind: Literal["record_drawing_folders"] = "record_drawing_folders"
    of: Literal["drawings"] = "drawings"
    folders: tuple[Text, ...] = ()

    def rules(self, facts: Session) -> None:
        if len(set(self.folders)) != len(self.folders) or not all(self.folders):
            raise BadInput("expected each folder of drawings once, by its path")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, DrawingFoldersFact(of=self.of, folders=json.dumps(list(self.folders))))
