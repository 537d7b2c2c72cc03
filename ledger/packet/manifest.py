"""
Reading a manifest from outside: its shape, strictly, before anything in it is believed.

Text that is not canonical, a hash in capitals, a number where text is required: each is a *misfit*, a finding
carried by an exception to the one place that reports it. Whether the row and the signature hold is judged
elsewhere (`ledger.packet.inspect`).
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any, NoReturn

from ledger.domain.canonical import canonical
from ledger.domain.errors import FitupError, visible
from ledger.domain.finding import Finding
from ledger.domain.sealed import Sealed
from ledger.packet.build import FORMAT, MANIFEST


class Misfit(Exception):
    """A manifest that does not have the shape of one."""

    def __init__(self, finding: Finding) -> None:
        self.finding = finding
        super().__init__(finding.message)


@dataclass(frozen=True, slots=True)
class LockedPart:
    """One part of the lock: its number, revision and the subject that was signed."""

    number: str
    revision: str
    subject: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """A manifest of the right shape. `row_job` and what follows come from the lock row's body."""

    job: str
    seal: str
    sealed: Sealed
    listed: dict[str, str]
    row_job: str
    row_seq: int
    row_by: str
    seen_seal: str
    act: dict[str, Any]
    person: str
    key: str
    parts: tuple[LockedPart, ...]
    contents: dict[str, str]


def read_manifest(text: bytes) -> Manifest:
    """The manifest in these bytes. Raises Misfit."""
    whole = _canonical_json(text, "altered_file", "the manifest")
    if not isinstance(whole, dict) or whole.get("format") != FORMAT:
        _misfit("not_as_built", f"the manifest is not of format {FORMAT}; a newer program may read it")
    try:
        return _manifest(whole)
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise Misfit(_finding("bad_row", f"the manifest is incomplete or malformed: {fault}")) from fault


def _manifest(whole: dict[str, Any]) -> Manifest:
    row, listed = whole["row"], whole["files"]
    sealed = Sealed(
        _count(row["seq"]),
        _hex(row["previous"], 64),
        _text(row["body"]).encode("utf-8"),
        _hex(row["hash"], 64),
        _hex(row["signature"], 128) if row["signature"] != "" else "",
    )
    body = _canonical_json(sealed.body, "bad_row", "the lock row")
    act = body["act"]
    if act["kind"] != "lock":
        raise ValueError("the row is not a lock")
    if not act["parts"]:
        raise ValueError("the lock names no part")
    return Manifest(
        job=_text(whole["job"]),
        seal=_text(whole["seal"]),
        sealed=sealed,
        listed={name: _hex(file["sha256"], 64) for name, file in listed.items()},
        row_job=_text(body["job"]),
        row_seq=_count(body["seq"]),
        act=act,
        row_by=_text(body["by"]),
        seen_seal=_text(act["seal"]),
        person=_text(act["person"]),
        key=_hex(act["key"], 64),
        parts=tuple(
            LockedPart(*(_text(p[k]) for k in ("number", "revision", "subject"))) for p in act["parts"]
        ),
        contents={name: _hex(digest, 64) for name, digest in act["contents"].items()},
    )


def _canonical_json(text: bytes, code: str, what: str) -> Any:
    """The value, if writing it again gives the same bytes: no doubled key, no float, no other spelling."""
    try:
        value = json.loads(text)
        same = canonical(value) == text
    except (ValueError, TypeError, RecursionError, FitupError) as fault:
        raise Misfit(_finding(code, f"{what} cannot be read")) from fault
    if not same:
        _misfit(code, f"{what} is not in its canonical form: it was changed")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("a number where text is required")
    return value


def _count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise TypeError("the entry's place is not a whole number from 1 up")
    return value


def _hex(value: Any, figures: int) -> str:
    if not re.fullmatch(rf"[0-9a-f]{{{figures}}}", _text(value)):
        raise ValueError(f"{figures} lower-case hex figures are required")
    return str(value)


def _finding(code: str, message: str) -> Finding:
    return Finding(code, visible(message, most=300), where=MANIFEST)


def _misfit(code: str, message: str) -> NoReturn:
    raise Misfit(_finding(code, message))
