"""A vendor in one line, and the day by which they have cut what goes out today."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.plural import counted
from ledger.domain.vendor import MOST_LEAD, Vendor
from ledger.schedule.calendar import WorkingDays, read_days, read_weekdays, weekdays_words
from ledger.standards.processes import process
from ledger.words.forms import VENDOR
from ledger.words.line import Line, reads

_LEAD = re.compile(r"(?:lead\s+)?(?P<days>[0-9]+)(?:\s+(?:working\s+)?days?)?")


@reads(VENDOR)
def vendor_line(text: str) -> Line:
    """`Kerf & Son: laser; lead 10 days; Mon..Fri; off 2027-12-24..2027-12-31`. Raises BadInput, UnknownName."""
    name, colon, rest = (piece.strip() for piece in text.partition(":"))
    pieces = [piece.strip() for piece in rest.split(";") if piece.strip()]
    if not (colon and name and pieces):
        raise BadInput(f"expected {VENDOR.hint}")
    said: dict[str, Any] = {"name": name}
    for piece in pieces:
        said |= _piece(piece)
    vendor = Vendor(**said)
    return Line(asdict(vendor), vendor_words(vendor))


def vendor_words(vendor: Vendor) -> str:
    """A vendor as the line that would enter it."""
    said = [", ".join(vendor.processes)]
    said += [] if vendor.lead_days is None else [f"lead {counted(vendor.lead_days, 'day')}"]
    said += [weekdays_words(vendor.weekdays)]
    said += [f"off {' '.join(_spans(vendor.days_off))}"] if vendor.days_off else []
    return f"{vendor.name}: {'; '.join(filter(None, said))}"


def read_lead(text: str) -> int:
    """A lead time in working days, `lead 10 days` or `10`. Raises BadInput."""
    found = _LEAD.fullmatch(text.strip().lower())
    if found is None or len(found["days"]) > len(str(MOST_LEAD)) or int(found["days"]) > MOST_LEAD:
        raise BadInput(
            f"read {visible(text)!r}; expected a lead time of 0 to {MOST_LEAD} working days, such as 10 days"
        )
    return int(found["days"])


def read_processes(text: str) -> tuple[str, ...]:
    """Processes by the names that the tables have, `laser, water-jet`. Raises UnknownName."""
    return tuple(dict.fromkeys(process(word).name for word in text.split(",") if word.strip()))


READERS: Mapping[str, Callable[[str], Any]] = {
    "processes": read_processes,
    "lead_days": read_lead,
    "weekdays": read_weekdays,
    "days_off": read_days,
}


def cut_by(vendor: Vendor, sent: str) -> str:
    """The last day of the vendor's lead for what goes out on a day, YYYY-MM-DD; empty where no lead is recorded."""
    if vendor.lead_days is None:
        return ""
    days = WorkingDays(vendor.weekdays, tuple(map(date.fromisoformat, vendor.days_off)))
    _, finish = days.forward(date.fromisoformat(sent).toordinal() + 1, vendor.lead_days)
    return date.fromordinal(finish - 1).isoformat()


def _piece(piece: str) -> dict[str, Any]:
    word, _, value = piece.partition(" ")
    if word.lower() == "lead":
        return {"lead_days": read_lead(piece)}
    if word.lower() == "off":
        days = read_days(value)
        if not days:
            raise BadInput(f"read {visible(piece)!r}; expected days off, such as off 2027-12-24..2027-12-31")
        return {"days_off": days}
    if re.match(r"(?:mon|tue|wed|thu|fri|sat|sun)", word.lower()):
        return {"weekdays": read_weekdays(piece)}
    return {"processes": read_processes(piece)}


def _spans(days: tuple[str, ...]) -> list[str]:
    """Days that follow each other as one span."""
    spans: list[list[date]] = []
    for at in map(date.fromisoformat, days):
        joined = spans and (at - spans[-1][-1]).days == 1 and (at - spans[-1][0]).days <= 366  # noqa: PLR2004 - a year
        spans[-1].append(at) if joined else spans.append([at])
    return [f"{s[0]}..{s[-1]}" if len(s) > 1 else f"{s[0]}" for s in spans]
