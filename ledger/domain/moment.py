"""
Moments: kept in UTC, shown in the time of whoever looks; and days as people write them.

A time is a claim of some clock; the order of entries is their number.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from ledger.domain.errors import BadInput, visible


def day(text: str) -> date:
    """A day as YYYY-MM-DD. Raises BadInput."""
    try:
        found = date.fromisoformat(text)
    except ValueError as fault:
        raise BadInput(f"{visible(text)!r} is not a date; expected YYYY-MM-DD") from fault
    if found.isoformat() != text:
        raise BadInput(f"{visible(text)!r} is not a date; expected YYYY-MM-DD")
    return found


def local(at: str, form: str = "%Y-%m-%d %H:%M:%S") -> str:
    """A journal's moment (`2026-03-02T09:00:00Z`) by this workstation's clock, with its zone; else unchanged."""
    moment = _here(at)
    if moment is None:
        return at
    offset = moment.utcoffset() or timedelta()
    zone = f"{moment:%z}"
    return f"{moment.strftime(form)} {zone[:3] + ':' + zone[3:5] if offset else 'UTC'}"


def local_minute(at: str) -> str:
    """The same without seconds and zone, for narrow columns."""
    moment = _here(at)
    return f"{moment:%Y-%m-%d %H:%M}" if moment else at


def _here(at: str) -> datetime | None:
    try:
        return datetime.fromisoformat(at).astimezone()
    except (ValueError, OverflowError, OSError):
        return None
