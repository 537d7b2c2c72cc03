"""What the databases say when they refuse, in our words."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import wraps
from time import sleep
from typing import ParamSpec, TypeVar

from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from ledger.domain.errors import BadInput, Collided, FitupError, JobBusy, Tampered, Uncertain, Unreadable

# By SQLSTATE, or its first two figures (PostgreSQL manual, appendix A); the first that fits counts.
_LOST = ("08", "57", "")
_SERVER: tuple[tuple[tuple[str, ...], type[FitupError], str], ...] = (
    (
        ("40001", "40P01", "23505"),  # serialization failure, deadlock, unique violation
        Collided,
        "another workstation changed the job meanwhile; nothing was written, try again",
    ),
    (("55P03",), JobBusy, "another workstation holds the job; nothing was written, try again in a moment"),
    (
        ("42501", "25006"),  # no privilege, only reading
        BadInput,
        "this role may not do that in the job's database ({said}); nothing was written",
    ),
    (("P0001",), Tampered, "the job's database refused ({said}); fitup verify says what is wrong"),
    (
        ("42P01", "3F000"),
        BadInput,
        "there is no job in that database ({said}); start one with fitup start TITLE",
    ),
    (("42P06", "42P07"), BadInput, "there is a job in that database already ({said}); name another one"),
    (("42",), Tampered, "the tables are not those of a job ({said}); fitup verify says what is wrong"),
    ((*_LOST, "28", "3D"), Unreadable, "the job's database cannot be reached ({said}); nothing was written"),
)


P = ParamSpec("P")
T = TypeVar("T")
TRIES = 6


def tried_again(verb: Callable[P, T]) -> Callable[P, T]:
    """A verb that is run again, a few times and after a moment, where the database chose another workstation."""

    @wraps(verb)
    def again(*args: P.args, **kwargs: P.kwargs) -> T:
        for attempt in range(1, TRIES):
            try:
                return verb(*args, **kwargs)
            except Collided:
                sleep(random.uniform(0.5, 1.0) * 0.02 * 2**attempt)  # noqa: S311 - spreads workstations, no secret
        return verb(*args, **kwargs)

    return again


def in_our_words(fault: DBAPIError, *, committing: bool = False) -> FitupError:
    """The refusal as the person at the bench should read it. `committing`: it came at the last word."""
    said = str(fault.orig).strip().partition("\n")[0]
    state = getattr(fault.orig, "sqlstate", None)
    if state is not None or type(fault.orig).__module__.startswith("psycopg"):
        return _of_server(said, state or "", committing=committing)
    if isinstance(fault, IntegrityError):
        return JobBusy(f"another program changed the job meanwhile ({said}); nothing was written, try again")
    if isinstance(fault, OperationalError):
        return _of_file(said)
    return Tampered(f"the job's file does not hold together ({said}); restore it from a copy")


def _of_file(said: str) -> FitupError:
    if "locked" in said or "busy" in said:
        return JobBusy("another program is writing to this job; nothing was written, try again in a moment")
    if "full" in said or "disk I/O" in said:
        return FitupError(f"the disk refused ({said}); nothing was written: make room and try again")
    if "readonly" in said:
        return BadInput("the job's file may only be read here; nothing was written")
    if "malformed" in said or "no such" in said:
        return Tampered(f"the job's file does not hold together ({said}); fitup verify says what is wrong")
    return FitupError(f"the database refused ({said}); nothing was written")


def _of_server(said: str, state: str, *, committing: bool) -> FitupError:
    if "NUL" in said and not state:  # the driver's own refusal, before anything is sent
        return BadInput(f"the database cannot hold that text ({said}): leave it out; nothing was written")
    if state[:2] in _LOST and committing:
        return Uncertain(
            f"the database was lost while writing ({said}): look with fitup journal whether it was written"
        )
    for states, kind, words in _SERVER:
        if state in states or state[:2] in states:
            return kind(words.format(said=said))
    return FitupError(f"the database refused ({said}); nothing was written")
