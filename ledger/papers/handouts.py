"""
What a job issues: packets as they were kept, sheets, records, the report. Nothing here changes it.
"""

from __future__ import annotations

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.judge.verdicts import Judging
from ledger.papers import of_part
from ledger.store import facts as read
from ledger.store.tables import LockFact


def packet(facts: Session, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
    """
    The kept packet of a locked revision: name, bytes, and its DXF files by name.

    Raises UnknownName; Tampered where its lock does not count, or what was kept is another lock's packet.
    """
    lock = of_part.kept_lock(facts, number, revision)
    name, data = of_part.kept_packet(facts, lock)
    together = [k for k in read.rows(facts, LockFact, seq=lock.seq) if k.dxf]
    return name, data, {k.dxf_name: read.kept_file(facts, k.dxf) for k in together}


def sheet(facts: Session, judging: Judging, number: str, paper: str = "A4") -> bytes:
    """
    The vendor sheet as PDF: of a locked revision the one in its packet, else a preview on `paper`, marked so.

    Raises UnknownName, BadInput, Tampered.
    """
    from ledger.papers.sheet import vendor_sheet

    newest = read.part(facts, newest_part(facts, number))
    if newest.locked:
        return of_part.kept_sheet(facts, newest)
    bench = judging.bench(facts, (number,))
    verdict = judging.verdict(facts, bench, number)
    part = bench.part(newest_part(facts, number))
    return vendor_sheet(part, of_part.issue(facts, verdict, bench.policy), paper=paper)


def report(facts: Session, judging: Judging) -> bytes:
    """The whole job as one HTML file that needs nothing else: judged afresh, now."""
    from ledger.papers import job_page

    bench = judging.bench(facts, (), whole=True)
    return job_page.report(facts, bench, judging.verdict, judging.store.clock())


def picture(facts: Session, judging: Judging, name: str, kind: str) -> bytes:
    """A part, or the plies of a connection as they go together, as svg or png. Raises UnknownName, BadInput."""
    return of_part.picture(facts, judging.bench(facts, ()), name, kind)
