"""
What of a part, a connection and the job stands in the text, kind by kind: how each is told, and the acts that enter it.

Each is told as the line that enters it, where that line reads back as exactly what is recorded; else as a table of the
fields of its act. Either may be written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlmodel import Session

from ledger.acts.base import Act
from ledger.domain.errors import BadInput
from ledger.words.line import Line

Told = str | dict[str, Any]  # the line, or the fields
Records = dict[str, Told]
Do = Callable[[Act], int]
REASON: Final = "not in the text of the job"


@dataclass(frozen=True, slots=True)
class Tools:
    """What acts are done with: the facts, the day, how to do one, and how a clearance was measured."""

    facts: Session
    day: str
    do: Do
    measure: Callable[[tuple[str, str], str], object]


@dataclass(frozen=True, slots=True)
class Kind:
    """
    One kind of record: the name of its table, what it is `of`, how all of them are `told`, and how one is entered.

    `told` gets the part, or the session for what is of the job. `enter` gets the owner, the key and what is written.
    `remove` takes one out; None where nothing does. `is_reading`: what was measured is entered once and never written
    over. `about` is what one is called, `sample` how one is written.
    """

    name: str
    of: str
    about: str
    told: Callable[[Any], Mapping[str, Any]]
    enter: Callable[[Tools, str, str, Told], object]
    remove: Callable[[Tools, str, str], object] | None = None
    is_reading: Callable[[Told], bool] = lambda _told: False
    sample: str = ""


def in_a_line(line: str, reads: Callable[[str], Line], fields: Mapping[str, Any]) -> Told:
    """What stands behind the name in a line that reads back as these fields; else the fields that are not empty."""
    try:
        same = {n: v for n, v in reads(line).fields.items() if v not in ("", None, (), False)} == {
            n: v for n, v in fields.items() if v not in ("", None, (), False)
        }
    except BadInput:
        same = False
    if same:
        return line
    return {
        n: list(v) if isinstance(v, tuple) else v for n, v in fields.items() if v not in ("", None, (), False)
    }


def fields_of(told: Told, reads: Callable[[str], Line], start: str) -> dict[str, Any]:
    """The fields of what is written, a line or a table of them. Raises BadInput, UnknownName."""
    if isinstance(told, str):
        return reads(start + told).fields
    return {n: tuple(v) if isinstance(v, list) else v for n, v in told.items()}


def behind(told: Told, start: str) -> Told:
    return told.removeprefix(start) if isinstance(told, str) else told


def without(told: Told, name: str = "name") -> Told:
    return told if isinstance(told, str) else {n: v for n, v in told.items() if n != name}


def always(_told: Any) -> bool:
    """For what always is a reading."""
    return True


LEFT_OUT: Final[Mapping[str, str]] = {
    "open_job": "a job is opened once",
    "new_revision": "a revision is begun by its own command, with a reason",
    "take_profile": "the text names the drawing by its bytes; these are taken from beside it",
    "record_trial": "what came of one trial, of one drawing",
    "freeze_interface": "a promise at one moment",
    "set_policy": "a keeper signs it; the text shows it",
    "enroll_person": "people sign, and are not written into a file",
    "change_roles": "a keeper signs it",
    "change_key": "keys are not written into a file",
    "sign_revision": "a signature",
    "permit": "a signature",
    "withdraw_permit": "a signature",
    "lock": "a signature",
    "keep_packet": "made by a lock",
    "record_drawing_folders": "a place on one machine",
    "keep_evidence": "files are kept by their bytes, not in a text",
    "record_order": "what was sent, not what is meant",
    "cancel_order": "what was sent, not what is meant",
    "record_receipt": "what came back",
    "measure_piece": "what came back",
    "undo": "takes an entry back",
}
