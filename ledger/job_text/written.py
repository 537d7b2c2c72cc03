"""What a job records that is meant, as the plain values of its text."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from sqlmodel import Session

from ledger.domain.fields import PART_FIELDS, value_of
from ledger.domain.quantity import Length
from ledger.domain.record import Part, TakenProfile
from ledger.domain.verdict import Policy
from ledger.job_text.of_job import AFTER_PARTS, OF_JOB, day_of, names_of
from ledger.job_text.of_parts import OF_PART, holes_told
from ledger.store import facts as read

PLAIN: Final = ("here_by", "file_names")
POLICY: Final = ("roles", "permits", "raised", "odds")
DRAWING: Final = ("file", "sha256", "unit", "layers", "vendor")
Path = tuple[str, ...]


def told_job(facts: Session) -> dict[str, Any]:
    """Everything, in the order of the text; what is empty is left out."""
    found: dict[str, Any] = {"here_by": day_of(facts), "file_names": names_of(facts)}
    found["policy"] = _policy(read.policy(facts))
    found |= {kind.name: kind.told(facts) for kind in OF_JOB}
    found["parts"] = {part.number: _part(facts, part) for part in read.newest_parts(facts)}
    found |= {kind.name: kind.told(facts) for kind in AFTER_PARTS}
    return {name: value for name, value in found.items() if value}


def _policy(policy: Policy) -> dict[str, Any]:
    values = {name: getattr(policy, name) for name in POLICY}
    return {n: list(v) if isinstance(v, tuple) else str(v) for n, v in values.items() if v}


def fields_told(part: Part) -> dict[str, Any]:
    """The fields of a part that are recorded and are not what they are by themselves."""
    found = {}
    for field in PART_FIELDS:
        value = value_of(part, field.name)
        value = value.written if isinstance(value, Length) else value
        unsaid = value in ("", None, False) or (field.name, value) == ("hand", "either")
        if not unsaid and not (field.name == "quantity" and part.per_assembly):
            found[field.name] = value
    return found


def _part(facts: Session, part: Part) -> dict[str, Any]:
    found = fields_told(part)
    if part.taken:
        found["drawing"] = drawing_told(part.taken)
    for kind in OF_PART:
        told = holes_told(facts, part) if kind.name == "holes" else kind.told(part)
        if told:
            found[kind.name] = told
    return found


def drawing_told(taken: TakenProfile) -> dict[str, Any]:
    """The drawing of a part: its file by name and bytes, and how it was said to be read."""
    found: dict[str, Any] = {"file": taken.file_name, "sha256": taken.dxf_sha256}
    found |= {"unit": taken.unit} if taken.unit_stated else {}
    found |= {"layers": dict(taken.roles)} if taken.roles else {}
    return found | ({"vendor": taken.vendor} if taken.vendor else {})


def records(values: Mapping[str, Any]) -> dict[Path, Any]:
    """Every record of a text by its place in it, one line or table each: what can be compared."""
    return dict(_records(values))


def _records(values: Mapping[str, Any]) -> Iterator[tuple[Path, Any]]:
    deep = {kind.name for kind in AFTER_PARTS if kind.of == "connection"}
    kinds = {kind.name for kind in OF_PART}
    for name, value in values.items():
        if not isinstance(value, Mapping):
            yield (name,), value
        elif name == "parts":
            for number, part in value.items():
                yield (name, number), ""
                for field, said in part.items() if isinstance(part, Mapping) else ():
                    if field in kinds and isinstance(said, Mapping):
                        yield from (((name, number, field, key), one) for key, one in said.items())
                    else:
                        yield (name, number, field), said
        elif name in deep:
            for owner, some in value.items():
                if isinstance(some, Mapping):
                    yield from (((name, owner, key), one) for key, one in some.items())
        else:
            yield from (((name, key), one) for key, one in value.items())


def in_words(told: Any) -> str:
    """A record in one line, for people."""
    if isinstance(told, str):
        return told
    if isinstance(told, Mapping):
        return ", ".join(f"{name} {in_words(value)}" for name, value in told.items())
    if isinstance(told, list):
        return ", ".join(map(in_words, told))
    return json.dumps(told)
