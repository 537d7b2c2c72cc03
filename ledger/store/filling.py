"""
An exported job brought into empty tables.

It is believed only as far as its hashes, its signatures and its seal hold together; the line or file that does not is
named. The entries before that line can be brought in alone: the others are then kept as they are, in a file of their
own, and whatever named a seal of theirs tells that they are missing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session

from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, Tampered, visible
from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.domain.sealed import START, read_body
from ledger.store.journal_lines import LINES, lines_in, rows_in
from ledger.store.permanent import add_row, keep_file
from ledger.store.transfer import ABOUT, KEPT_FILES, Exported


@dataclass(frozen=True, slots=True)
class Filled:
    """How many entries are in, the seal, and what was left out, in words."""

    entries: int
    seal: str
    left_out: tuple[str, ...] = ()


def fill(facts: Session, exported: Exported, *, before: int | None = None) -> Filled:
    """
    Put journal and kept files into empty tables; only the entries before one, where that is named.

    Raises Tampered naming the line or file.
    """
    if len(set(exported.names)) != len(exported.names):
        raise Tampered(f"{exported.source}: a file is in it more than once")
    seal, count, aside = START, 0, list[str]()
    with exported.open(LINES) as file:
        for row in rows_in(file, aside.append):
            add_row(facts, row)
            seal, count = row.hash, row.seq
            if count + 1 == before:
                break
    if before is None and (exported.seal != f"{count}:{seal}" or exported.entries != count):
        raise Tampered(
            f"{LINES} ends at line {count} ({seal[:12]}), but {ABOUT} names the seal {exported.seal[:24]}: "
            "lines are missing at its end, or it was changed"
        )
    for name in exported.names:
        if name not in (ABOUT, LINES):
            _keep(facts, name, exported.read(name))
    return Filled(count, f"{count}:{seal}", tuple(aside))


def _keep(facts: Session, name: str, data: bytes) -> None:
    digest = name.removeprefix(KEPT_FILES)
    if not name.startswith(KEPT_FILES) or sha256(data) != digest:
        raise Tampered(
            f"{visible(name)} does not hold the bytes it is named by: it was changed or put in. "
            "Put the right bytes there, or take it out"
        )
    keep_file(facts, digest, data)


def refusal(exported: Exported, found: Finding) -> Tampered:
    """What `verify` finds in a filled job, with the line or file that it comes from."""
    at = found.where.removeprefix("entry ")
    if found.where.startswith("entry "):
        return Tampered(f"{LINES} line {at}: {found.message}")
    if found.code.startswith("kept_file"):
        return Tampered(f"{KEPT_FILES}{at}: {found.message}")
    return Tampered(f"{exported.source}: {found.message}")


def write_rest(exported: Exported, before: int, rest: Path) -> tuple[str, ...]:
    """
    The lines from entry `before` on in a new file, as they are; what was left out, in words, signed entries by name.

    Raises BadInput where the file cannot be written.
    """
    left: list[bytes] = []
    try:
        with exported.open(LINES) as file, rest.open("xb") as out:
            for line in _from(lines_in(file), before):
                out.write(line + b"\n")
                left.append(line)
    except OSError as fault:
        raise BadInput(
            f"cannot write {visible(str(rest))}: {fault.strerror}; nothing was brought in. Name a new file"
        ) from fault
    words = f"{counted(len(left), 'line')} from entry {before} on left out, written to {visible(str(rest))}"
    return (words, *_signed(left))


def _from(lines: Iterable[bytes], before: int) -> Iterator[bytes]:
    """The lines that are not those of the entries before one."""
    expected = 1
    for line in lines:
        if expected < before and (seq := _number(line)) is not None and seq <= expected:
            expected += seq == expected
        else:
            expected = before
            yield line


def _number(line: bytes) -> int | None:
    with suppress(ValueError, TypeError, KeyError, RecursionError):
        seq = json.loads(line)["seq"]
        return seq if type(seq) is int else None
    return None


def _signed(lines: Iterable[bytes]) -> Iterator[str]:
    """What stands under a signature, whatever it is worth."""
    for line in lines:
        with suppress(ValueError, TypeError, KeyError, AttributeError, RecursionError):
            row = json.loads(line)
            if row["signature"]:
                body = read_body(row["body"])
                what = f"entry {body.seq}, {body.act['kind'].replace('_', ' ')} by {body.by}"
                yield visible(f"left out, and signed: {what}", most=200)
