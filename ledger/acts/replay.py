"""Replay: the act of a journal row, applied to the facts."""

from __future__ import annotations

from sqlmodel import Session

from ledger.acts import read_act
from ledger.acts.base import Entry
from ledger.store.sealed import Sealed, read_body


def follow(facts: Session, row: Sealed) -> None:
    """Apply the act of a journal row to the facts, as replay does."""
    body = read_body(row.body)
    read_act(body.act).apply(facts, Entry(row.seq, row.hash, body.by, body.at))
