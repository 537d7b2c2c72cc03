"""
A job begun, brought in, or opened by another version of the program than wrote it.

An older one's facts are followed anew from the journal. A newer one's are left alone: the job is only read, from
facts followed in memory.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable
from pathlib import Path

from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.release import OpenJob
from ledger.acts.replay import follow
from ledger.domain.address import file_of, shown
from ledger.domain.errors import BadInput, FitupError, Tampered
from ledger.domain.leftovers import passing, sync_folder
from ledger.domain.names import name_text
from ledger.domain.program import PROGRAM, release_of
from ledger.store import facts as read
from ledger.store.guards import create_tables, drop_tables, remove_unfinished
from ledger.store.journal import Clock, Store
from ledger.store.place import connect
from ledger.store.replay import require_followed, seal_of
from ledger.store.tables import JobFact


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
    """
    Make the tables of a new job and what comes first into it. Raises BadInput; a failure leaves nothing of it.

    A file is made under a passing name and gets its own once all is in it, so that nothing of a killed program is ever
    taken for a job. On a server what such a one left is taken away first.
    """
    path = file_of(place)
    connect(place, create=True).dispose()  # refuses a place where a job cannot be
    building = passing(path.parent) if path else None
    engine = connect(str(building) if building else place, create=True)
    store = Store(engine, follow, PROGRAM, clock)
    made = False
    try:
        remove_unfinished(engine)
        create_tables(engine)
        made = True
        first(store)
        store.close()
        if path and building:
            _put_in_place(building, path)
    except BaseException as fault:
        if made and building is None:
            drop_tables(engine)
        store.close()
        if building:
            _remove_file(building)
        if isinstance(fault, FitupError) or not isinstance(fault, Exception):
            raise
        raise BadInput(f"cannot start a job at {shown(place)}: {fault}") from fault


def _put_in_place(building: Path, path: Path) -> None:
    """Give a finished job its name, unless somebody has taken that meanwhile."""
    try:
        os.link(building, path)
    except FileExistsError:
        raise BadInput(f"{shown(str(path))} is there already; name another file with --job") from None
    except OSError:  # a disk that knows no second name for a file
        building.rename(path)
    else:
        building.unlink()
    sync_folder(path.parent)


def made_ready(store: Store) -> str:
    """Bring the facts up to the journal where that is ours to do; else the words why this job is only read here."""
    with store.reading() as facts:
        current = store.is_current(facts)
        newer = _newer({read.last_writer(facts)}) if current else True
        newer = newer and _newer(read.writers(facts))  # a stamp is anyone's to write, an entry is not
    if newer:
        if not current:
            store.read_beside()
        return "this job was written by a newer fitup and is read-only here; upgrade fitup"
    try:
        store.rebuild_if_needed()
    except BadInput as fault:
        store.read_beside()
        return str(fault)
    return ""


def _remove_file(path: Path) -> None:
    for left in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
        left.unlink(missing_ok=True)


def _newer(writers: set[str]) -> bool:
    return any(release_of(w) > release_of(PROGRAM) for w in writers)


def opened_job(facts: Session) -> JobFact:
    """The job's own row. Raises Tampered where it is gone, BadInput where there was never an entry."""
    found = read.rows(facts, JobFact)
    if not found:
        require_followed(facts)
        if seal_of(facts)[0]:
            raise Tampered("the job's own row is gone from its tables; fitup verify says all that is wrong")
        raise BadInput("this job has no entries: it was not started by fitup")
    return found[0]
