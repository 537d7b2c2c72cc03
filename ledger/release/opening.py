"""
A job begun, brought in, or opened by another version of the program than wrote it.

An older one's facts are followed anew from the journal. A newer one's are left alone: the job is only read, from
facts followed in memory.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable

from ledger.acts.base import make
from ledger.acts.release import OpenJob
from ledger.acts.replay import follow
from ledger.domain.address import file_of, shown
from ledger.domain.errors import BadInput, FitupError
from ledger.domain.names import name_text
from ledger.domain.program import PROGRAM, release_of
from ledger.store import facts as read
from ledger.store.guards import create_tables, drop_tables
from ledger.store.journal import Clock, Store
from ledger.store.place import connect


def begin(place: str, firm: str, clock: Clock) -> None:
    """A new job with its first entry. Raises BadInput."""
    firm = name_text(firm)

    def first(store: Store) -> None:
        ident = secrets.token_hex(8)
        act = make(OpenJob, firm=firm, ident=ident)
        store.rebuild_if_needed()
        with store.writing() as facts:
            store.append(facts, job=ident, by="fitup", act=act.model_dump(mode="json"))

    new_job(place, clock, first)


def new_job(place: str, clock: Clock, first: Callable[[Store], object]) -> None:
    """Make the tables of a new job and what comes first into it. Raises BadInput; a failure leaves nothing of it."""
    engine = connect(place, create=True)
    store = Store(engine, follow, PROGRAM, clock)
    made = False
    try:
        create_tables(engine)
        made = True
        first(store)
    except BaseException as fault:
        if made and file_of(place) is None:
            drop_tables(engine)
        store.close()
        _remove_file(place)
        if isinstance(fault, FitupError) or not isinstance(fault, Exception):
            raise
        raise BadInput(f"cannot start a job at {shown(place)}: {fault}") from fault
    store.close()


def made_ready(store: Store) -> str:
    """Bring the facts up to the journal where that is ours to do; else the words why this job is only read here."""
    with store.reading() as facts:
        current = store.is_current(facts)
        writers = {read.last_writer(facts)} if current else read.writers(facts)
    if any(release_of(w) > release_of(PROGRAM) for w in writers):
        if not current:
            store.read_beside()
        return "this job was written by a newer fitup and is read-only here; upgrade fitup"
    try:
        store.rebuild_if_needed()
    except BadInput as fault:
        store.read_beside()
        return str(fault)
    return ""


def _remove_file(place: str) -> None:
    path = file_of(place)
    if path is not None:
        for left in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
            left.unlink(missing_ok=True)
