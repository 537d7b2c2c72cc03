"""
The gate: one judgement with two doors.

`judge` turns what the checks found, who signed and what was permitted into a *verdict* and never raises;
`require` raises with the same stops. The screen shows the first, the lock goes through the second.
A check that could not run, or crashed, stops like a finding does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from ledger.domain.cause import by_cause, explains
from ledger.domain.errors import NotReleasable
from ledger.domain.finding import Finding
from ledger.domain.record import UNSIGNED
from ledger.domain.verdict import Outcome, PermitMade, Policy, SignatureMade, Verdict

Place = tuple[str, str]  # a connection, or empty for the part itself; the part whose drawing was missing

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


def with_lock_unsigned(verdict: Verdict, why: str = UNSIGNED) -> Verdict:
    """What becomes of a verdict where the revision stands as locked and its lock does not count; `why` it does not."""
    found = Finding(
        "lock_unsigned",
        f"{verdict.part} revision {verdict.revision} {why}",
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
