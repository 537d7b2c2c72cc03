"""
The report of a job, gathered: the newest revision of every part and every connection, as they stand at this moment.

Each part is judged by itself, as the list of parts does; a locked one's verdict is read from its lock. How the page
looks is the business of `ledger.papers.report_page`.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.domain.connection import Connection
from ledger.domain.errors import BadInput, visible
from ledger.domain.short_key import short_key
from ledger.domain.verdict import Verdict
from ledger.judge.bench import Bench
from ledger.judge.views import connection_view
from ledger.papers import of_part
from ledger.papers.evidence_pictures import small_picture
from ledger.papers.report_page import ConnectionPage, JobPage, PartPage, report_page
from ledger.papers.svg import svg
from ledger.store import facts as read
from ledger.store.evidence import evidence_files
from ledger.store.replay import seal_of
from ledger.store.tables import ConnectionFact, JobFact, PartFact

VerdictOf = Callable[[Session, Bench, str], Verdict]


def report(facts: Session, bench: Bench, verdict_of: VerdictOf, at: datetime) -> bytes:
    """The report as HTML; each part is judged by `verdict_of` with those it was last signed together with."""
    numbers = sorted({row.number for row in read.rows(facts, PartFact)})
    connections = [read.connection(facts, row) for row in read.rows(facts, ConnectionFact)]
    (job,) = read.rows(facts, JobFact)
    seq, seal = seal_of(facts)
    return report_page(
        JobPage(
            firm=job.firm,
            ident=job.ident,
            seal=f"{seq}:{seal}",
            root=short_key(job.root),
            at=at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC"),
            parts=tuple(_part(facts, bench.as_last_signed(n), verdict_of, connections, n) for n in numbers),
            connections=tuple(_connection(bench, connection) for connection in connections),
            evidence=tuple(
                (visible(one.words), small_picture(data) if one.is_picture else b"")
                for one, data in evidence_files(facts)
            ),
        )
    )


def _part(
    facts: Session, bench: Bench, verdict_of: VerdictOf, connections: list[Connection], number: str
) -> PartPage:
    part, verdict = bench.part(newest_part(facts, number)), verdict_of(facts, bench, number)
    return PartPage(
        part=part,
        verdict=verdict,
        connections=tuple(m.name for m in connections if any(ply.part == number for ply in m.plies)),
        picture=svg(of_part.drawing(facts, bench, number)) if part.profile else b"",
        signatures=of_part.signatures(facts, verdict, bench.records.vouching),
        permits=of_part.permits(facts, verdict, bench.records.vouching),
    )


def _connection(bench: Bench, connection: Connection) -> ConnectionPage:
    view = connection_view(bench, connection)
    try:
        picture, why = svg(of_part.overlay(bench, connection)), ""
    except BadInput as fault:
        picture, why = b"", str(fault)
    fit = view.fit
    return ConnectionPage(
        connection=connection,
        margin_mm=fit.margin_mm if fit else None,
        worst_case_mm=fit.worst_case_margin_mm if fit else None,
        odds=view.odds,
        findings=view.findings,
        picture=picture,
        no_picture=why,
    )
