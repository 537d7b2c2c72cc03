"""
Verdicts and what they are made of, as plain values: outcomes of checks, signatures, permits, the policy.

An *outcome* is what became of one check. A *verdict* is what the gate (`ledger.domain.gate`) makes of all of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

from ledger.domain.finding import Finding
from ledger.domain.record import PERMITTERS
from ledger.domain.required_odds import USUAL

State = Literal["ran", "not run", "error", "does not apply"]
# These stand until people act together, so they do not keep anyone from signing.
SIGNED_OVER = ("role_missing", "partner_open", "unacknowledged")


@dataclass(frozen=True, slots=True)
class Outcome:
    """
    What became of one check on one subject (a part's number or a connection's name).

    Of a connection `plies` are its parts, each with the revision that was looked at: (number, revision), in order.
    `undrawn` is the part whose missing drawing kept the check from running.
    """

    check: str
    subject: str
    state: State
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    plies: tuple[tuple[str, str], ...] = ()
    undrawn: str = ""


@dataclass(frozen=True, slots=True)
class SignatureMade:
    """A signature as far as the gate needs it. `sound` is whether its signature holds."""

    person: str
    role: str
    subject: str
    sound: bool
    self_check: bool = False
    acknowledged: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PermitMade:
    """
    A signed acceptance of one finding. `in_force` is worked out by whoever knows the date.

    With `up_to`, a value as a plain decimal, it holds while what is found is out on the same side of its bound (`above`
    it or below) and no farther.

    With a `connection` it is for what was found of that connection between exactly these `parts`, each (number,
    revision); without one for what was found of a part alone. `void` says why it is not in force, `seq` which entry
    gave it.
    """

    code: str
    where: str
    reason: str
    person: str
    sound: bool
    in_force: bool
    until: str = ""
    up_to: str = ""
    above: bool = False
    connection: str = ""
    parts: tuple[tuple[str, str], ...] = ()
    seq: int = 0
    void: str = ""

    def covers(self, finding: Finding, told: Outcome) -> bool:
        """Whether it accepts this finding as that outcome tells it."""
        return (
            self.sound
            and self.in_force
            and (self.code, self.where) == (finding.code, finding.where)
            and self.connection == (told.subject if told.plies else "")
            and (not told.plies or self.parts == told.plies)
            and (not self.up_to or finding.no_worse_than(self.up_to, above=self.above))
        )

    @property
    def withdrawn(self) -> bool:
        """Whether somebody has withdrawn it."""
        return self.void.startswith("withdrawn")

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {**asdict(self), "parts": [{"part": n, "revision": r} for n, r in self.parts]}


def revisions_text(parts: Iterable[tuple[str, str]]) -> str:
    """Revisions in words: `BASE A and TURN B`."""
    *others, last = [f"{number} {revision}" for number, revision in parts]
    return f"{', '.join(others)} and {last}" if others else last


@dataclass(frozen=True, slots=True)
class Policy:
    """
    What the job asks for. `raised` codes become stops; `people` are those enrolled. `permits` are the roles that may
    accept a finding.

    `odds` are required of holes that do not go together with every limit at once ("99" percent, or "worst case").
    """

    roles: tuple[str, ...] = ("drawn", "checked")
    raised: tuple[str, ...] = ()
    people: int = 1
    odds: str = USUAL
    permits: tuple[str, ...] = PERMITTERS

    def to_json(self) -> dict[str, Any]:
        """The items that a subject names: not the number of people, who come and go; the odds where they are set."""
        odds = {"odds": self.odds} if self.odds != USUAL else {}
        return {"roles": list(self.roles), "raised": sorted(self.raised), **odds}


@dataclass(frozen=True, slots=True)
class Verdict:
    """GO or NO-GO with reasons. `permitted` findings were accepted in writing."""

    part: str
    revision: str
    subject: str
    stops: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    permitted: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    signed: tuple[SignatureMade, ...] = ()

    @property
    def go(self) -> bool:
        """Whether nothing stands against it."""
        return not self.stops

    def stops_against_signing(self) -> tuple[Finding, ...]:
        """The stops that a person may not sign over."""
        return tuple(s for s in self.stops if s.code not in SIGNED_OVER)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "part": self.part,
            "revision": self.revision,
            "verdict": "GO" if self.go else "NO-GO",
            "subject": self.subject,
            "stops": [f.to_json() for f in self.stops],
            "warnings": [f.to_json() for f in self.warnings],
            "notes": [f.to_json() for f in self.notes],
            "permitted": [f.to_json() for f in self.permitted],
            "not_checked": list(self.not_checked),
            "signed": [{"person": s.person, "role": s.role, "self_check": s.self_check} for s in self.signed],
        }

    @staticmethod
    def from_json(data: dict[str, Any]) -> Verdict:
        """The verdict that `to_json` wrote, as kept with a lock: it is read again, never judged again."""
        found = {
            k: tuple(map(Finding.from_json, data[k])) for k in ("stops", "warnings", "notes", "permitted")
        }
        signed = tuple(
            SignatureMade(s["person"], s["role"], data["subject"], sound=True, self_check=s["self_check"])
            for s in data["signed"]
        )
        return Verdict(
            data["part"],
            data["revision"],
            data["subject"],
            **found,
            not_checked=tuple(data["not_checked"]),
            signed=signed,
        )
