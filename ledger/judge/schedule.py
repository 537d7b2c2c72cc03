"""
The schedule of a job: what waits on what, with the lead of whoever cuts each part, by the critical path.

A part can go out when its open questions are answered (the day by which each is needed counts as the day of its answer)
and the parts that it waits on are here. It is cut by the vendor of its order, else by the one that was entered
for it or that its drawing was taken for, else by the only one recorded who cuts by its process.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from sqlmodel import Session, select

from ledger.domain.order import Order
from ledger.domain.schedule import PartDays, Schedule
from ledger.domain.vendor import Vendor
from ledger.schedule.calendar import WorkingDays
from ledger.schedule.network import Activity, Link, Times, critical_path
from ledger.standards.processes import process
from ledger.store.orders import orders
from ledger.store.tables import (
    JobDayFact,
    PartFact,
    PlyFact,
    ProfileFact,
    QuestionFact,
    WaitFact,
)
from ledger.store.vendors import vendors


@dataclass(frozen=True, slots=True)
class _Of:
    """A part with who cuts it; `days` are theirs."""

    row: PartFact
    order: Order | None
    vendor: Vendor | None
    days: WorkingDays | None
    why: str
    waits: tuple[str, ...]

    @property
    def here(self) -> bool:
        """Whether all of its newest order has come."""
        return self.order is not None and not any(x.part == self.row.number for x in self.order.missing)

    @property
    def known(self) -> bool:
        return not self.why


def schedule(facts: Session, today: str) -> Schedule:
    """Every cut part with the day by which it must go out. Raises BadInput for a ring, or a calendar that is none."""
    row = facts.get(JobDayFact, "job")
    day = row.day if row else ""
    start = date.fromisoformat(today).toordinal() + 1  # what is decided today, somebody can start on tomorrow
    asked = {f"{q.number}/{q.ident}": q for q in facts.exec(select(QuestionFact)).all() if not q.answer}
    parts = _parts(facts, asked.values())
    activities, links = [*_activities(asked, parts, start)], [*_links(asked, parts)]
    names = {a.name for a in activities}
    links = [x for x in links if x.before in names and x.after in names]
    finish = date.fromisoformat(day).toordinal() + 1 if day else None
    times = critical_path(activities, links, start=start, finish=finish)
    cut = [times[f"cut {n}"] for n, of in parts.items() if of.known and not of.here]
    all_here = _day(max(t.early_finish for t in cut) - 1) if cut else ""
    found = [_days(of, times.get(f"cut {n}")) for n, of in parts.items()]
    return Schedule(today, day, all_here, tuple(sorted(found, key=_first)))


def _first(part: PartDays) -> tuple[bool, str, str]:
    return part.state in ("here", "not known"), part.send_by or part.here, part.part


def _parts(facts: Session, asked: Iterable[QuestionFact]) -> dict[str, _Of]:
    """The newest revision of every part that is cut, with who cuts it."""
    newest = {
        r.number: r for r in sorted(facts.exec(select(PartFact)).all(), key=lambda r: (r.number, r.place))
    }
    known = {v.name: v for v in vendors(facts)}
    days = {
        v.name: WorkingDays(v.weekdays, tuple(map(date.fromisoformat, v.days_off))) for v in known.values()
    }
    last: dict[tuple[str, str], Order] = {}
    for one in orders(facts):
        if not one.canceled:
            last |= {(line.part, line.revision): one for line in one.lines}
    drawn = {(p.number, p.revision): p.vendor for p in facts.exec(select(ProfileFact)).all()}
    waits = _waits(facts, asked)
    found = {}
    for number, row in newest.items():
        if row.form != "cut":
            continue
        order: Order | None = last.get((number, row.revision))
        said = json.loads(row.said).get("vendor", "") or drawn.get((number, row.revision), "")
        named = order.vendor if order else said
        vendor, why = _cutter(row, named, known)
        if order is not None:
            why = "" if order.due or not order.missing else f"order {order.ident} has no day that it is due"
        calendar = days.get(vendor.name) if vendor else None
        found[number] = _Of(row, order, vendor, calendar, why, tuple(sorted(waits[number])))
    return _told_on(found)


def _told_on(parts: dict[str, _Of]) -> dict[str, _Of]:
    """A part that waits on one of which nothing is known is not known either, however long the chain."""
    changed = True
    while changed:
        changed = False
        for number, of in parts.items():
            unknown = [w for w in of.waits if w in parts and not parts[w].known]
            if of.known and of.order is None and unknown:
                parts[number] = replace(
                    of, why=f"it waits on {', '.join(unknown)}, of which that is not known"
                )
                changed = True
    return parts


def _cutter(row: PartFact, named: str, known: Mapping[str, Vendor]) -> tuple[Vendor | None, str]:
    """Who cuts a part, and else what is missing."""
    if named:
        vendor = known.get(named)
        if vendor is None:
            return None, f"{named} is not recorded as a vendor"
        return vendor, "" if vendor.lead_days is not None else f"no lead time of {named}"
    able = [v for v in known.values() if v.lead_days is not None and _cuts(v, row.process)]
    if len(able) == 1:
        return able[0], ""
    if not known:
        return None, "no vendor recorded"
    by = f" by {row.process}" if row.process else ""
    return (
        None,
        f"{'several vendors cut' if able else 'no vendor with a lead time cuts'}{by}; fitup part {row.number} --vendor",
    )


def _cuts(vendor: Vendor, by: str) -> bool:
    return bool(by) and process(by).name in vendor.processes


def _waits(facts: Session, asked: Iterable[QuestionFact]) -> defaultdict[str, set[str]]:
    """What each part still waits on, by part: open questions as PART/QUESTION, and parts as they were named."""
    plies: defaultdict[str, set[str]] = defaultdict(set)
    for ply in facts.exec(select(PlyFact)).all():
        plies[ply.connection].add(ply.part)
    found: defaultdict[str, set[str]] = defaultdict(set)
    for q in asked:
        for name in (q.number, *json.loads(q.holds_up)):
            for part in plies.get(name, {name}):
                found[part].add(f"{q.number}/{q.ident}")
    for row in facts.exec(select(WaitFact)).all():
        found[row.number] |= {*json.loads(row.after)}
    return found


def _activities(
    asked: Mapping[str, QuestionFact], parts: Mapping[str, _Of], start: int
) -> Iterator[Activity]:
    for name, q in asked.items():
        answered = date.fromisoformat(q.needed_by).toordinal() + 1 if q.needed_by else start
        yield Activity(f"ask {name}", 0, not_before=max(start, answered))
    for number, of in parts.items():
        yield Activity(f"send {number}", 0)
        if of.here:
            yield Activity(f"cut {number}", 0)
        elif of.order is not None:
            due = date.fromisoformat(of.order.due).toordinal() + 1 if of.order.due else start
            calendar = {"days": of.days} if of.days else {}
            yield Activity(f"cut {number}", 0, not_before=max(start, due), **calendar)
        elif of.known and of.vendor and of.vendor.lead_days is not None and of.days:
            yield Activity(f"cut {number}", of.vendor.lead_days, of.days)
        else:
            yield Activity(f"cut {number}", 0)


def _links(asked: Mapping[str, QuestionFact], parts: Mapping[str, _Of]) -> Iterator[Link]:
    for number, of in parts.items():
        if of.order is not None:
            continue
        yield Link(f"send {number}", f"cut {number}")
        for wait in of.waits:
            yield Link(f"ask {wait}" if wait in asked else f"cut {wait}", f"send {number}")


def _days(of: _Of, times: Times | None) -> PartDays:
    """What is said of one part."""
    row, vendor = of.row, of.vendor
    named = vendor.name if vendor else (of.order.vendor if of.order else "")
    known = partial(
        PartDays, row.number, row.revision, vendor=named, order=of.order.ident if of.order else ""
    )
    if of.here:
        return known("here")
    if not of.known or times is None:
        return known("not known", waits=of.waits, why=of.why)
    here, left = _day(times.early_finish - 1), round(times.slack)
    if of.order is not None:
        return known("ordered", here=here, left=left)
    lead = vendor.lead_days if vendor else None
    send_by = _last_working(of.days, int(times.late_start)) if of.days else _day(times.late_start - 1)
    return known("to send", lead_days=lead, send_by=send_by, here=here, left=left, waits=of.waits)


def _last_working(days: WorkingDays, start: int) -> str:
    """The last working day before the morning on which work must start."""
    first, _ = days.backward(start, 1)
    return _day(first)


def _day(ordinal: float) -> str:
    return date.fromordinal(int(ordinal)).isoformat()
