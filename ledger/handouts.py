"""
What a job issues: packets as they were kept, sheets, records, pictures, the report. Nothing here changes it.
"""

from __future__ import annotations

from ledger import papers
from ledger.acts.base import newest_part
from ledger.store import facts as read
from ledger.store.tables import LockFact
from ledger.verdicts import Judged


class Issued(Judged):
    """What can be asked of an open job on paper and as files."""

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """
        The kept packet of a locked revision: name, bytes, and its DXF files by name.

        Raises UnknownName; Tampered where its lock does not count, or what was kept is another lock's packet.
        """
        with self.store.reading() as facts:
            lock = papers.kept_lock(facts, number, revision)
            name, data = papers.kept_packet(facts, lock)
            together = [k for k in read.rows(facts, LockFact, seq=lock.seq) if k.dxf]
            return name, data, {k.dxf_name: read.kept_file(facts, k.dxf) for k in together}

    def picture(self, name: str, kind: str = "svg") -> bytes:
        """A part, or the plies of a connection as they go together, as svg or png. Raises UnknownName, BadInput."""
        with self.store.reading() as facts:
            return papers.picture(facts, self._bench(facts, ()), name, kind)

    def sheet(self, number: str, paper: str = "A4") -> bytes:
        """
        The vendor sheet as PDF: of a locked revision the one in its packet, else a preview on `paper`, marked so.

        Raises UnknownName, BadInput, Tampered.
        """
        from ledger.packet.sheet import vendor_sheet

        with self.store.reading() as facts:
            newest = read.part(facts, newest_part(facts, number))
            if newest.locked:
                return papers.kept_sheet(facts, newest)
            bench = self._bench(facts, (number,))
            verdict = self._verdict(facts, bench, number)
            part = bench.part(newest_part(facts, number))
            return vendor_sheet(part, papers.issue(facts, verdict, bench.policy), paper=paper)

    def record(self, number: str, revision: str = "") -> bytes:
        """
        The job record of a locked revision, as the lock made and kept it; it never leaves with a packet.

        Raises UnknownName, Tampered.
        """
        with self.store.reading() as facts:
            return papers.kept_record(facts, number, revision)

    def report(self) -> bytes:
        """The whole job as one HTML file that needs nothing else: judged afresh, now."""
        from ledger import job_page

        with self.store.reading() as facts:
            bench = self._bench(facts, (), whole=True)
            return job_page.report(facts, bench, self._verdict, self.store.clock())
