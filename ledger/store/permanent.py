"""
Writing what stays: the next entry of the journal, and kept bytes under their digest.

In a file both are plain rows. On a server they go through the two functions of its schema, whoever is connected: a
workstation's role has no other way, and the owner takes the same one.
"""

from __future__ import annotations

from sqlalchemy import insert, text
from sqlmodel import Session

from ledger.domain.sealed import Sealed
from ledger.store.tables import JournalRow, KeptFileRow

_ADD = text("SELECT fitup.add_entry(:seq, :previous, :body, :hash, :signature)")
_KEEP = text("SELECT fitup.keep_file(:sha256, :data)")


def add_entry(facts: Session, row: Sealed) -> None:
    """Write an entry behind the last one."""
    facts.flush()
    connection = facts.connection(bind_arguments={"mapper": JournalRow})
    values = {"seq": row.seq, "previous": row.previous, "body": row.body}
    values |= {"hash": row.hash, "signature": row.signature}
    connection.execute(insert(JournalRow) if connection.dialect.name == "sqlite" else _ADD, values)


def add_row(facts: Session, row: Sealed) -> None:
    """Write a row of a journal that was taken out behind the last one, as who made the tables: it may be no entry."""
    facts.flush()
    values = {"seq": row.seq, "previous": row.previous, "body": row.body}
    values |= {"hash": row.hash, "signature": row.signature}
    facts.connection(bind_arguments={"mapper": JournalRow}).execute(insert(JournalRow), values)


def keep_file(facts: Session, digest: str, data: bytes) -> None:
    """Keep bytes under their SHA-256."""
    facts.flush()
    connection = facts.connection(bind_arguments={"mapper": KeptFileRow})
    values = {"sha256": digest, "data": data}
    connection.execute(insert(KeptFileRow) if connection.dialect.name == "sqlite" else _KEEP, values)
