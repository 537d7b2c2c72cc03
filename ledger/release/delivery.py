"""
A lock with its files brought to their places: staged before the lock counts, put in place after it, else taken away.

What fails before the entries are written leaves nothing; what fails after it leaves a lock whose kept bytes can be
handed out again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

from sqlmodel import Session

from ledger.domain.errors import BadInput, visible
from ledger.judge.verdicts import Judging
from ledger.release import custody, signing
from ledger.release.signer import Signer

if TYPE_CHECKING:
    from ledger.packet.build import Staged


def lock(
    signer: Signer,
    writing: Callable[[], AbstractContextManager[Session]],
    judging: Judging,
    numbers: Sequence[str],
    out: Path,
) -> signing.LockMade:
    """
    Verify the whole job, lock a set and write its packet and folder into `out`. `writing` opens a session to write in.

    Raises NotReleasable, BadInput, Tampered; and leaves nothing.
    """
    _make_folder(out)
    staged: Sequence[Staged] = ()
    try:
        with writing() as write:
            custody.require_whole(write)
            with signer.store.replayed.facts(write) as facts:
                made, staged = signing.lock(signer, write, judging.bench(facts, numbers), out)
    except BaseException:
        _discard(staged)
        raise
    try:
        for waiting in staged:
            waiting.commit()
    except BadInput as fault:
        _discard(staged)
        raise BadInput(f"locked, but {fault}; fetch the kept files with: fitup packet") from fault
    return made


def _make_folder(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(
            f"cannot write to {visible(str(out))}: {fault.strerror}; nothing was locked"
        ) from fault


def _discard(staged: Sequence[Staged]) -> None:
    for waiting in staged:
        waiting.discard()
