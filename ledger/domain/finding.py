"""
Findings: what a reading or a check has to say about a part or a connection.

A *finding* is a value that rides beside the data to the end; it is never raised.
Its *code* names what is wrong and is what tests speak of; the wording may change.
*Severity*: a **stop** keeps a revision from being locked, a **warning** is acknowledged when signing,
a **note** is only told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any, Literal

from ledger.domain.headlines import headline
from ledger.domain.number_text import plain

Severity = Literal["stop", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "warning", "note")
_PLACES = 6

# What the reader of drawings may find; the check of the profile passes these on.
READER_CODES: tuple[str, ...] = (
    "unit_missing",
    "unit_contradicted",
    "unit_differs",
    "unit_doubtful",
    "open_contour",
    "gap_closed",
    "duplicate",
    "zero_length",
    "branch",
    "crossing",
    "overlap",
    "several_outlines",
    "island",
    "no_outline",
    "concentric",
    "unreadable_entity",
    "unexplained_content",
    "ignored_content",
    "maybe_bend",
    "drawing_words",
    "dimension_differs",
    "only_recovered",
    "facets",
    "few_sides",
    "out_of_round",
    "nearly_round",
    "fit_points",
    "drawing_sheet",
    "tool_path",
    "hole_moved",
    "hole_gone",
)


@dataclass(frozen=True, slots=True)
class Finding:
    """
    One thing found. `where` names the place (a hole label, an entity, a clearance), `fix` the fix.

    `short` is the headline as it was kept; `sum` the lines of the sum behind a number that decides.
    `follows` is the code of the stop that it only follows from, where there is one.
    `measured` and `limit` are words with their unit ("1.20 mm"), so that records never hold a float. `value` and
    `bound` are the same two as plain decimals in one unit, where a permit may hold up to a value.
    """

    code: str
    message: str
    severity: Severity = "stop"
    where: str = ""
    fix: str = ""
    measured: str = ""
    limit: str = ""
    value: str = ""
    bound: str = ""
    follows: str = ""
    short: str = field(default="", compare=False)
    sum: tuple[str, ...] = ()

    @property
    def headline(self) -> str:
        """At most 60 characters, subject first, number second: as it was kept, else by its code."""
        return self.short or headline(self.code, self.message, self.where, self.measured, self.limit)

    @property
    def first_fix(self) -> str:
        """The best way to fix it, in one line."""
        return self.fix.split("; ")[0]

    @property
    def other_fixes(self) -> tuple[str, ...]:
        """The other ways, best first."""
        return tuple(way.removeprefix("or ") for way in self.fix.split("; ")[1:])

    def raised(self, severity: Severity) -> Finding:
        """The same finding at a severity at least as high: policy may raise one, never silence it."""
        if SEVERITIES.index(severity) < SEVERITIES.index(self.severity):
            return replace(self, severity=severity)
        return self

    def held_to(self, value: float, bound: float) -> Finding:
        """The same, with what was found and its bound: a permit may hold up to a value; as it was without numbers."""
        if not (math.isfinite(value) and math.isfinite(bound)):
            return self
        found, limit = (plain(Decimal(str(round(v, _PLACES)))) for v in (value, bound))
        return replace(self, value=found, bound=limit)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "code": self.code,
            "severity": self.severity,
            "headline": self.headline,
            "message": self.message,
            "where": self.where,
            "fix": self.fix,
            "measured": self.measured,
            "limit": self.limit,
            **({"value": self.value, "bound": self.bound} if self.value else {}),
            **({"follows": self.follows} if self.follows else {}),
            **({"sum": list(self.sum)} if self.sum else {}),
        }

    @property
    def above(self) -> bool:
        """Whether what was found lies above its bound."""
        return bool(self.value and self.bound) and Decimal(self.value) > Decimal(self.bound)

    def no_worse_than(self, most: str, *, above: bool) -> bool:
        """Whether what was found is out on that side of its bound, no farther than a permitted value."""
        if not (self.value and self.bound) or self.above is not above:
            return False
        value, permitted = Decimal(self.value), Decimal(most)
        return value <= permitted if above else value >= permitted

    @staticmethod
    def from_json(data: dict[str, Any]) -> Finding:
        """The finding that `to_json` wrote."""
        kept = dict(data)
        short = kept.pop("headline", "")
        return Finding(**{**kept, "sum": tuple(kept.get("sum", ()))}, short=short)


@dataclass(frozen=True, slots=True)
class Why:
    """The findings of one code at a part, with the source of the check that gives it."""

    part: str
    findings: tuple[Finding, ...]
    source: str

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "part": self.part,
            "findings": [f.to_json() for f in self.findings],
            "source": self.source,
        }
