"""
The report of a shop, gathered: the newest revision of every part and every mate, as they stand at this moment.

Each part is judged by itself, as the list of parts does; a locked one's verdict is read from its lock. How the page
looks is the business of `ledger.packet.report_page`.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from sqlmodel import Session

from ledger import papers
from ledger.acts.base import newest_part
from ledger.cases import Bench
from ledger.domain.errors import BadInput
from ledger.domain.gate import Verdict
from ledger.domain.mated import Mate
from ledger.packet.report_page import MatePage, PartPage, ShopPage, report_page
from ledger.profile.picture import svg
from ledger.store import facts as read
from ledger.store.replay import head_of
from ledger.store.tables import MateFact, PartFact, ShopFact
from ledger.views import mate_view

VerdictOf = Callable[[Session, Bench, str], Verdict]


def report(facts: Session, bench: Bench, verdict_of: VerdictOf, at: datetime) -> bytes:
    """The report as HTML; each part is judged by `verdict_of` with those it was last signed together with."""
    numbers = sorted({row.number for row in read.rows(facts, PartFact)})
    mates = [read.mate(facts, row) for row in read.rows(facts, MateFact)]
    (shop,) = read.rows(facts, ShopFact)
    seq, head = head_of(facts)
    return report_page(
        ShopPage(
            title=shop.title,
            ident=shop.ident,
            head=f"{seq}:{head}",
            at=at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC"),
            parts=tuple(_part(facts, bench.as_last_signed(n), verdict_of, mates, n) for n in numbers),
            mates=tuple(_mate(bench, mate) for mate in mates),
        )
    )


def _part(facts: Session, bench: Bench, verdict_of: VerdictOf, mates: list[Mate], number: str) -> PartPage:
    part, verdict = bench.part(newest_part(facts, number)), verdict_of(facts, bench, number)
    return PartPage(
        part=part,
        verdict=verdict,
        mates=tuple(m.name for m in mates if any(ply.part == number for ply in m.plies)),
        picture=svg(papers.drawing(facts, bench, number)) if part.profile else b"",
        signatures=papers.signatures(facts, verdict, bench.shelf.vouching),
        permits=papers.permits(facts, verdict, bench.shelf.vouching),
    )


def _mate(bench: Bench, mate: Mate) -> MatePage:
    view = mate_view(bench, mate)
    try:
        picture, why = svg(papers.overlay(bench, mate)), ""
    except BadInput as fault:
        picture, why = b"", str(fault)
    fit = view.fit
    return MatePage(
        mate=mate,
        margin_mm=fit.margin_mm if fit else None,
        worst_case_mm=fit.worst_case_margin_mm if fit else None,
        odds=view.odds,
        findings=view.findings,
        picture=picture,
        no_picture=why,
    )
