"""
Replay: the act of a journal row, asked whether it was allowed where it stands, and then applied to the facts.

The same is asked when an act is done, so what replay refuses is what nobody could do.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from pydantic import ValidationError
from sqlmodel import Session, select

from ledger.acts import ACTS, read_act
from ledger.acts.base import Act, Entry
from ledger.acts.release import OpenJob, Signed
from ledger.domain.errors import BadInput, NewerProgram, NoEntry, visible
from ledger.domain.program import PROGRAM, release_of
from ledger.domain.sealed import Body, Sealed, check_signature, read_row, signed_statement
from ledger.store.entries import entries, hash_of
from ledger.store.signers import entries_of_kinds, seen_seal
from ledger.store.tables import JobFact


def follow(facts: Session, row: Sealed) -> None:
    """
    Apply the act of a journal row to the facts.

    Raises NoEntry for a row that is no entry of this journal, BadInput for one that was not allowed where it stands,
    NewerProgram for one that only a newer program understands.
    """
    body = read_row(row)
    act = _act_in(facts, body)
    entry = Entry(row.seq, row.hash, body.by, body.at)
    entries(facts).next = row.seq
    _require_signature(facts, row, body, act)
    act.rules(facts)
    act.rules_at(facts, entry)
    act.apply(facts, entry)
    entries(facts).passed(row, body)


def applied(facts: Session, row: Sealed) -> None:
    """
    The same without asking whether it was allowed: for a part of a journal that was followed as a whole before.

    Raises NoEntry.
    """
    body = read_row(row)
    act = _act_in(facts, body)
    act.apply(facts, Entry(row.seq, row.hash, body.by, body.at))


def counted(facts: Session, kinds: tuple[str, ...]) -> Iterator[tuple[Sealed, Body, Act]]:
    """
    The entries of these kinds, in order, each as it is kept, as it reads and as an act: those that following a journal
    applies or refuses. What it sets aside is none of them, whatever it says; nor is what only a newer program reads.
    """
    opened = False
    for row, body in entries_of_kinds(facts, kinds):
        if body.act["kind"] == "open_job" and opened:
            continue
        with suppress(NoEntry, NewerProgram):
            act = _act_of(body)
            if not isinstance(act, OpenJob) or act.ident == body.job:
                opened = opened or isinstance(act, OpenJob)
                yield row, body, act


def _act_in(facts: Session, body: Body) -> Act:
    """The act of an entry of the job that is followed. Raises NoEntry, NewerProgram."""
    known = entries(facts).known
    job = known.get("job") or facts.exec(select(JobFact.ident)).first()
    known["job"] = job
    if job is not None and body.job != job:
        raise NoEntry("it is an entry of another job")
    act = _act_of(body)
    opens = act.ident if isinstance(act, OpenJob) else None
    if opens is not None and (job is not None or opens != body.job):
        raise NoEntry("this job is open already" if job else "it opens another job than it names")
    if opens is None and job is None:
        raise NoEntry("there is no job yet that it could be an entry of")
    return act


def _act_of(body: Body) -> Act:
    """The act of an entry. Raises NoEntry for what this program's acts are not, NewerProgram where it may be newer."""
    try:
        return read_act(body.act)
    except (NewerProgram, BadInput, ValueError, TypeError, ValidationError, ArithmeticError) as fault:
        if release_of(body.program) > release_of(PROGRAM):
            raise NewerProgram(
                f"an entry of kind {visible(body.act['kind'])!r} was written by a newer program: update this one"
            ) from fault
        known = {kind for kind, _version in ACTS}
        what = "has another shape" if body.act["kind"] in known else "is no act of this program"
        raise NoEntry(f"{visible(body.act['kind'])!r} {what}") from fault


def _require_signature(facts: Session, row: Sealed, body: Body, act: Act) -> None:
    """The signature of a signed act, by whom it is written, over the journal that is here. Raises BadInput."""
    if not isinstance(act, Signed):
        if row.signature:
            raise BadInput("it carries a signature, and its kind has none")
        return
    if body.by != act.person:
        raise BadInput(f"it is written as by {visible(body.by)}, who has not signed it")
    seq, seal = seen_seal(body.act)
    if not 0 < seq < row.seq or hash_of(facts, seq) != seal:
        raise BadInput("it was signed over another journal than this one")
    if not check_signature(act.key, signed_statement(body.job, body.act), row.signature):
        raise BadInput("the signature does not hold with the key it names")
