"""
The gate: one judgement with two doors.

`judge` turns what the checks found, who signed and what was permitted into a *verdict* and never raises;
`require` raises with the same stops. The screen shows the first, the lock goes through the second.
An *outcome* is what became of one check. A check that could not run, or crashed, stops like a finding does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from ledger.domain.cause import by_cause, explains
from ledger.domain.errors import NotReleasable
from ledger.domain.finding import Finding
from ledger.domain.record import PERMITTERS, UNSIGNED
from ledger.domain.required_odds import USUAL

State = Literal["ran", "not run", "error", "does not apply"]
Place = tuple[str, str]  # a connection, or empty for the part itself; the part whose drawing was missing

# These stand until people act together, so they do not keep anyone from signing.
SIGNED_OVER = ("role_missing", "partner_open", "unacknowledged")
# Nobody can permit these away: they say that nothing was judged, or that nobody answers for it.
NOT_PERMITTED = (
    "role_missing",
    "unacknowledged",
    "not_run",
    "check_failed",
    "no_checks",
    "not_calculated",
    "lock_unsigned",
)
# Another part brings these about: they warn, but a part that is drawn later must not make others sign again.
ABOUT_OTHERS = ("not_told_apart",)
# Matters no check of this program looks at. Every GO names them.
NEVER_CHECKED = (
    "strength, stiffness and safety of the structure: a licensed engineer and local codes decide these",
    "tilt of bolts, flatness, springback and weld distortion",
    "what the vendor's import makes of the file",
)


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


def with_lock_unsigned(verdict: Verdict) -> Verdict:
    """What becomes of a verdict where the revision stands as locked and no signature that counts has locked it."""
    found = Finding(
        "lock_unsigned",
        f"{verdict.part} revision {verdict.revision} {UNSIGNED}",
        severity="stop",
        where=verdict.part,
        fix="see fitup verify; then start a new revision, and sign and lock that",
    )
    return replace(verdict, stops=(found, *verdict.stops))


def key_of(finding: Finding) -> str:
    """What names a finding when it is acknowledged: its code, place and figures, not its wording."""
    return f"{finding.code}|{finding.where}|{finding.measured}|{finding.limit}"


def judge(
    *,
    part: str,
    revision: str,
    subject: str,
    outcomes: Iterable[Outcome],
    signatures: Iterable[SignatureMade],
    permits: Iterable[PermitMade],
    policy: Policy,
) -> Verdict:
    """One verdict from everything known, its stops by cause. Never raises; nothing looked at is itself a stop."""
    outcomes, signatures = tuple(outcomes), tuple(signatures)
    current = tuple(s for s in signatures if s.subject == subject and s.sound)
    told: dict[Finding, list[Outcome]] = {}  # what two connections say alike, once
    for o in outcomes:
        for f in (*o.findings, *_unrun(o)):
            told.setdefault(f, []).append(o)
    permits = tuple(permits)
    found = [_raised(f, policy) for f in told]
    permitted = tuple(_raised(f, policy) for f, by in told.items() if _is_permitted(f, by, permits))
    if not any(o.state == "ran" for o in outcomes):
        found.append(Finding("no_checks", "no check was run on this part", where=part))
    standing = _with_causes([f for f in found if f not in permitted], _places(told, policy), part)
    warnings = tuple(f for f in standing if f.severity == "warning")
    stops = [f for f in standing if f.severity == "stop"]
    if current:
        stops.extend(_unacknowledged(warnings, current))
    earlier = [s for s in signatures if s.sound and s.subject != subject]
    stops.extend(_missing_roles(current, policy, earlier))
    return Verdict(
        part,
        revision,
        subject,
        by_cause(stops),
        warnings,
        tuple(f for f in standing if f.severity == "note"),
        permitted,
        _not_checked(outcomes),
        current,
    )


def require(verdicts: Iterable[Verdict]) -> None:
    """Raise NotReleasable unless every verdict is GO."""
    verdicts = tuple(verdicts)
    if not verdicts or any(not v.go for v in verdicts):
        raise NotReleasable(verdicts)


def roles_held(current: Iterable[SignatureMade], policy: Policy) -> dict[str, str]:
    """
    Who answers for which role: {role: person}.

    With more than one person enrolled, whoever drew it does not count as the checker, and a self-check counts
    as drawn only. Alone, a self-check covers drawn and checked.
    """
    held: dict[str, str] = {}
    current = tuple(current)
    drawers = {s.person for s in current if s.role == "drawn" or s.self_check}
    for s in current:
        if s.self_check:
            for role in ("drawn", "checked") if policy.people <= 1 else ("drawn",):
                held.setdefault(role, s.person)
        elif s.role in ("drawn", "approved") or s.person not in drawers:
            held.setdefault(s.role, s.person)
    return held


def signed_before(earlier: Iterable[SignatureMade], policy: Policy) -> dict[str, str]:
    """Who answered last for which role before a change: {role: person}."""
    return roles_held(reversed([*earlier]), policy)


def with_changes(verdict: Verdict, told: Mapping[str, str]) -> Verdict:
    """The verdict in which the roles that a change has left open say what changed: {role: what changed}."""
    stops = (
        replace(s, message=f"{s.message} ({told[s.where]})")
        if s.code == "role_missing" and told.get(s.where)
        else s
        for s in verdict.stops
    )
    return replace(verdict, stops=tuple(stops))


def _places(told: Mapping[Finding, Iterable[Outcome]], policy: Policy) -> dict[Finding, tuple[Place, ...]]:
    """Of each finding where it is told: the part itself (empty) or the connection, and whose drawing is missing."""
    return {
        _raised(f, policy): tuple((o.subject if o.plies else "", o.undrawn) for o in by)
        for f, by in told.items()
    }


def _with_causes(
    standing: list[Finding], places: Mapping[Finding, tuple[Place, ...]], part: str
) -> list[Finding]:
    """What only follows from a stop of the same part or connection with the code of that stop, the others as is."""
    causes = [
        (stop.code, place) for stop in by_cause(f for f in standing if f.severity == "stop")
        for place, _ in places.get(stop, ())
    ]  # fmt: skip
    return [replace(f, follows=_cause_of(f, places.get(f, ()), causes, part)) for f in standing]


def _cause_of(
    finding: Finding, places: tuple[Place, ...], causes: Iterable[tuple[str, str]], part: str
) -> str:
    """
    The first stop that explains the finding wherever it is told; empty where none does.

    What is wrong with the part reaches its connections; what is wrong with a connection stays in it.
    """
    for code, at in causes:
        here = [place for place, _ in places if at in ("", place)]
        drawn = finding.code != "not_run" or all(undrawn == part for _, undrawn in places)
        if places and len(here) == len(places) and drawn and explains(code, finding.code):
            return code
    return ""


def _raised(finding: Finding, policy: Policy) -> Finding:
    return finding.raised("stop") if finding.code in policy.raised else finding


def _unrun(outcome: Outcome) -> tuple[Finding, ...]:
    if outcome.state == "not run":
        message = f"{outcome.check} did not run: {outcome.reason}"
        return (
            Finding(
                "not_run",
                message,
                where=outcome.subject,
                fix="supply what is missing",
            ),
        )
    if outcome.state == "error":
        message = f"{outcome.check} failed: {outcome.reason}"
        return (
            Finding(
                "check_failed",
                message,
                where=outcome.subject,
                fix="internal error, please report it",
            ),
        )
    return ()


def _is_permitted(finding: Finding, told: Iterable[Outcome], permits: tuple[PermitMade, ...]) -> bool:
    """Whether it is accepted from whichever side it is told."""
    if finding.code in NOT_PERMITTED:
        return False
    return all(any(p.covers(finding, o) for p in permits) for o in told)


def _unacknowledged(warnings: tuple[Finding, ...], current: tuple[SignatureMade, ...]) -> Iterable[Finding]:
    seen = {key for s in current for key in s.acknowledged}
    for warning in warnings:
        if key_of(warning) not in seen and warning.code not in ABOUT_OTHERS:
            message = f"a warning that is not acknowledged: {warning.message}"
            yield Finding("unacknowledged", message, where=warning.where, fix="look at it and sign again")


def _missing_roles(
    current: tuple[SignatureMade, ...], policy: Policy, earlier: Iterable[SignatureMade]
) -> Iterable[Finding]:
    """Roles that nobody answers for; `earlier` are signatures of the same revision as it stood before a change."""
    held, before = roles_held(current, policy), signed_before(earlier, policy)
    for role in policy.roles:
        if role not in held:
            fix = f"sign as {role}" + (
                ", by someone who did not draw it" if role == "checked" and policy.people > 1 else ""
            )
            said = f'no "{role}" signature for this revision as it stands'
            if role in before:
                said = f"changed since {before[role]} signed it as {role}"
                fix = f"look at the changes, then {fix}"
            yield Finding("role_missing", said, where=role, fix=fix)


def _not_checked(outcomes: tuple[Outcome, ...]) -> tuple[str, ...]:
    """What was left alone, each matter once, with everything that it was left alone of."""
    left: dict[str, dict[str, None]] = {}
    for o in outcomes:
        if o.state in ("ran", "does not apply") and o.reason:
            left.setdefault(o.reason, {})[o.subject] = None
    return (*(f"{', '.join(subjects)}: {reason}" for reason, subjects in left.items()), *NEVER_CHECKED)
