"""
Working days of somebody: which days of the week, and which single days not.

A *boundary* is the morning of a day, as its ordinal; what takes three working days runs from the morning of the first
to the morning after the last. The *last day* of work is the day before its finish.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection
from datetime import date

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.moment import day

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_AT_ONCE = 730  # so many days are laid out in one go
_EVER = date.max.toordinal()


class WorkingDays:
    """
    The working days of a calendar, laid out as far as they are asked for.

    Raises BadInput for a calendar that never works.
    """

    def __init__(self, weekdays: Collection[int] = range(5), days_off: Collection[date] = ()) -> None:
        if not weekdays:
            raise BadInput("a calendar without working days; expected at least one, such as Mon..Fri")
        self.weekdays = frozenset(weekdays)
        self.off = frozenset(d.toordinal() for d in days_off)
        self._days: list[int] = []
        self._from = self._to = 0

    def forward(self, at: int, length: int) -> tuple[int, int]:
        """Start and finish of work of so many working days that can start at a boundary. Raises BadInput."""
        if not length:
            return at, at
        self._cover(at - 1, at + 1)
        while len(self._days) < (first := bisect_left(self._days, at)) + length:
            self._cover(self._from, self._to + _AT_ONCE)
        return self._days[first], self._days[first + length - 1] + 1

    def backward(self, at: int, length: int) -> tuple[int, int]:
        """Start and finish of work of so many working days that must be done by a boundary. Raises BadInput."""
        if not length:
            return at, at
        self._cover(at - 1, at + 1)
        while (last := bisect_right(self._days, at - 1)) < length:
            self._cover(self._from - _AT_ONCE, self._to)
        return self._days[last - length], self._days[last - 1] + 1

    def between(self, start: int, finish: int) -> int:
        """How many working days there are from one boundary to another, negative where it is before."""
        if finish < start:
            return -self.between(finish, start)
        self._cover(start, finish)
        return bisect_left(self._days, finish) - bisect_left(self._days, start)

    def works(self, at: date) -> bool:
        """Whether a day is a working day."""
        return at.weekday() in self.weekdays and at.toordinal() not in self.off

    def _cover(self, start: int, finish: int) -> None:
        """Lay out the days of a span, and some more."""
        if self._from <= start and finish <= self._to:
            return
        low = max(1, min(start, self._from or start) - _AT_ONCE // 2)
        high = min(_EVER, max(finish, self._to) + _AT_ONCE)
        if (low, high) == (self._from, self._to):
            raise BadInput("a calendar that has no working day left; expected fewer days off")
        self._days = [d for d in range(low, high) if (d - 1) % 7 in self.weekdays and d not in self.off]
        self._from, self._to = low, high


def read_weekdays(text: str) -> tuple[int, ...]:
    """Days of the week, `Mon..Fri` or `Mon Tue Thu`, from 0 for Monday. Raises BadInput, UnknownName."""
    first, dots, last = (piece.strip() for piece in text.partition(".."))
    if dots:
        start, end = _weekday(first), _weekday(last)
        return tuple(sorted((start + k) % 7 for k in range((end - start) % 7 + 1)))
    found = sorted({_weekday(word) for word in text.replace(",", " ").split()})
    if not found:
        raise BadInput("no working day was named; expected such as Mon..Fri")
    return tuple(found)


def weekdays_words(days: Collection[int]) -> str:
    """Days of the week as they are read."""
    named = sorted(days)
    if len(named) > 2 and named[-1] - named[0] == len(named) - 1:  # noqa: PLR2004 - three in a row are a span
        return f"{WEEKDAYS[named[0]]}..{WEEKDAYS[named[-1]]}"
    return " ".join(WEEKDAYS[d] for d in named)


def read_days(text: str) -> tuple[str, ...]:
    """Single days and spans, `2027-05-01 2027-12-24..2027-12-31`, one by one. Raises BadInput."""
    found: set[str] = set()
    for word in text.replace(",", " ").split():
        first, dots, last = word.partition("..")
        start, end = day(first), day(last) if dots else day(first)
        if not 0 <= (end - start).days <= 366:  # noqa: PLR2004 - a year
            raise BadInput(f"read {visible(word)!r}; expected a span of up to a year, the earlier day first")
        found |= {date.fromordinal(d).isoformat() for d in range(start.toordinal(), end.toordinal() + 1)}
    return tuple(sorted(found))


def _weekday(word: str) -> int:
    short = word[:3].capitalize()
    full = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    if short not in WEEKDAYS or not full[WEEKDAYS.index(short)].startswith(word.lower()):
        raise UnknownName("day of the week", word, WEEKDAYS)
    return WEEKDAYS.index(short)
