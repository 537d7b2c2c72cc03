"""The day of a job and what waits on what, in one line; the schedule in lines, and what must go out soon."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from ledger.domain.errors import BadInput
from ledger.domain.moment import day
from ledger.domain.plural import counted
from ledger.domain.schedule import SOON_DAYS, PartDays, Schedule
from ledger.words.forms import SCHEDULE
from ledger.words.line import Line, reads

_BY = re.compile(r"by\s+(?P<day>\S+)", re.IGNORECASE)
_AFTER = re.compile(r"(?P<part>\S+)\s+after\s+(?P<parts>.+)", re.IGNORECASE | re.DOTALL)
_NONE = ("nothing", "none")


@reads(SCHEDULE)
def schedule_line(text: str) -> Line:
    """`by 2027-05-01`, or `ARM-L after BASE, TURN`: the act is named by the key `act`. Raises BadInput."""
    if by := _BY.fullmatch(text.strip()):
        on = "" if by["day"].lower() in _NONE else day(by["day"]).isoformat()
        return Line(
            {"act": "RecordDay", "day": on}, f"everything here by {on}" if on else "no day for the job"
        )
    if after := _AFTER.fullmatch(text.strip()):
        named = [piece.strip() for piece in after["parts"].split(",") if piece.strip()]
        parts = () if named and named[0].lower() in _NONE else tuple(named)
        fields: dict[str, Any] = {"act": "RecordWait", "number": after["part"], "after": parts}
        return Line(fields, f"{after['part']} goes out after {', '.join(parts) or 'nothing'}")
    raise BadInput(f"expected {SCHEDULE.hint}")


def schedule_lines(found: Schedule) -> Iterator[str]:
    """The schedule, what must go out first in front."""
    if found.day:
        yield f"everything here by {found.day}" + (
            f"; the last can be here on {found.all_here}" if found.all_here else ""
        )
    elif found.all_here:
        yield f"no day for the job; all can be here on {found.all_here}"
        yield f'  fitup schedule "by {found.all_here}" records a day'
    wide = max((len(p.part) for p in found.parts), default=0)
    for part in found.parts:
        yield f"{part.part:<{wide}}  {part_words(part)}"
        if part.waits and part.state != "here":
            yield f"{'':<{wide}}    after {', '.join(part.waits)}"
    if found.critical and found.day:
        yield f"first to hold it up: {', '.join(found.critical)}"
    if not found.parts:
        yield "no part that is cut"


def part_words(part: PartDays) -> str:
    """One part, in a line."""
    if part.state == "here":
        return f"here (order {part.order})"
    if part.state == "not known":
        return f"not known: {part.why}"
    left = _left(part)
    if part.state == "ordered":
        return f"ordered ({part.order} from {part.vendor}), here by {part.here}; {left}"
    lead = counted(part.lead_days or 0, "day")
    return f"send by {part.send_by} ({part.vendor}, lead {lead}); sent now, here on {part.here}; {left}"


def soon_lines(found: Schedule) -> Iterator[str]:
    """What must go out within a week, or should have gone already; only where the job has a day."""
    last = (date.fromisoformat(found.today) + timedelta(SOON_DAYS)).isoformat()
    for part in found.parts if found.day else ():
        if part.state == "to send" and part.send_by <= last:
            after = f" (after {', '.join(part.waits)})" if part.waits else ""
            yield f"send {part.part} to {part.vendor} by {part.send_by}{after}; {_left(part)}"
        elif part.state == "ordered" and part.late:
            yield f"{part.part} comes too late with order {part.order}, on {part.here}; {_left(part)}"


def _left(part: PartDays) -> str:
    left = part.left or 0
    return f"{counted(-left, 'working day')} LATE" if left < 0 else f"{counted(left, 'working day')} left"
