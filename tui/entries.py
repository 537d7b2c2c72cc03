"""Entries of the journal in words, for the journal's rows, for taking one back and for telling what others recorded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ledger.domain.moment import local

if TYPE_CHECKING:
    from ledger.job import Written


def about(entry: Written) -> str:
    """What the entry is about: a part, a connection, the parts that are signed or locked, a person."""
    act = entry.act
    parts = ", ".join(p["number"] for p in (*act.get("parts", ()), *act.get("subjects", ())))
    named = act.get("number") or act.get("connection") or parts or act.get("name") or act.get("person")
    return str(named or "")


def entry_words(entry: Written) -> str:
    """One entry in a line: number, what was done, to what."""
    act = entry.act
    inner = act.get("name") or act.get("ident") or act.get("label") or act.get("code") or ""
    of = about(entry)
    detail = f" {inner}" if inner and inner != of else ""
    if entry.kind == "undo":
        detail = f" entry {act['undoes']}"
    return f"entry {entry.seq}, {entry.kind.replace('_', ' ')}{detail}{f' of {of}' if of else ''}"


def others_words(entries: Sequence[Written]) -> str:
    """What another workstation has recorded: the newest, and how many more."""
    last = entries[-1]
    more = f" and {len(entries) - 1} more before it" if len(entries) > 1 else ""
    return f"recorded by {last.by} at {local(last.at, '%H:%M')}: {entry_words(last)}{more}"
