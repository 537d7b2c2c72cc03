"""
What a shop issues: packets as they were kept, sheets, records, pictures, the report. Nothing here changes it.
"""

from __future__ import annotations

from ledger import papers
from ledger.acts.base import newest_part
from ledger.acts.vouching import Vouching
from ledger.domain.errors import Tampered, UnknownName, visible
from ledger.judging import Judged
from ledger.store import facts as read
from ledger.store.tables import JournalRow, LockFact, PacketFact


class Issued(Judged):
    """What can be asked of an open shop on paper and as files."""

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """
        The kept packet of a locked revision: name, bytes, and its DXF files by name.

        Raises UnknownName; Tampered where its lock does not count, or what was kept is another lock's packet.
        """
        from ledger.packet.inspect import inspect

        with self.store.reading() as facts:
            locks = read.rows(facts, LockFact, number=number)
            found = [k for k in locks if k.revision == revision or not revision]
            if not found:
                raise UnknownName(
                    "locked revision",
                    f"{number} {revision}".strip(),
                    [f"{k.number} {k.revision}" for k in read.rows(facts, LockFact)],
                )
            newest = max(found, key=lambda k: k.seq)
            kept, row = facts.get_one(PacketFact, newest.seq), facts.get_one(JournalRow, newest.seq)
            data = read.blob(facts, kept.sha256)
            vouching = Vouching(facts)
            if not vouching.of(newest) or inspect(data).head != f"{row.seq}:{row.hash}":
                raise Tampered(
                    f"what was kept of {visible(number)} {newest.revision} is not what a signature that counts has "
                    "locked: it is not handed out; see fitup verify"
                )
            together = [k for k in read.rows(facts, LockFact, seq=newest.seq) if k.dxf and vouching.of(k)]
            return kept.file_name, data, {k.dxf_name: read.blob(facts, k.dxf) for k in together}

    def picture(self, name: str, kind: str = "svg") -> bytes:
        """A part, or the plies of a mate as they go together, as svg or png. Raises UnknownName, BadInput."""
        with self.store.reading() as facts:
            return papers.picture(facts, self._bench(facts, ()), name, kind)

    def sheet(self, number: str, paper: str = "A4") -> bytes:
        """
        The vendor's sheet as PDF: of a locked revision the one in its packet, else a preview on `paper`, marked so.

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
        The shop record of a locked revision, as the lock made and kept it; it never leaves with a packet.

        Raises UnknownName, Tampered.
        """
        with self.store.reading() as facts:
            return papers.kept_record(facts, number, revision)

    def report(self) -> bytes:
        """The whole shop as one HTML file that needs nothing else: judged afresh, now."""
        from ledger import shop_page

        with self.store.reading() as facts:
            bench = self._bench(facts, (), whole=True)
            return shop_page.report(facts, bench, self._verdict, self.store.clock())
