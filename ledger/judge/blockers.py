"""
In few words what keeps a part: what its verdict waits on, and on whom.

Stops that need work on the part itself come first, then open questions, measurements, partner parts that are still
open, and last the signatures, which wait on all the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.domain.verdict import Verdict

People = Sequence[tuple[str, tuple[str, ...]]]
_FEW = 2
_LATER = ("question_open", "not_measured", "partner_open", "unacknowledged", "role_missing")


def waits_on(verdict: Verdict, people: People, together: Sequence[str] = ()) -> str:
    """
    What the part waits on, the most pressing first, such as "Q1, PIER open" or "checked: ada or bo".

    For GO it is empty, or says with which others of the set it goes.

    `people` are (name, roles) of everyone enrolled. Whoever drew it is not named as the checker where there are
    others.
    """
    others = [n for n in together if n != verdict.part]
    if verdict.go:
        return f"with {_few(others)}" if others else ""
    ordered = sorted(verdict.stops, key=lambda f: _LATER.index(f.code) if f.code in _LATER else -1)
    items = list(dict.fromkeys(_words(f, verdict, people) for f in ordered))
    return _few(items)


def _few(items: Sequence[str]) -> str:
    more = f" +{len(items) - _FEW}" if len(items) > _FEW else ""
    return ", ".join(items[:_FEW]) + more


def _words(finding: Finding, verdict: Verdict, people: People) -> str:
    place = finding.where
    if finding.code == "role_missing":
        return f"{place}: {_any_of(_who(place, verdict, people))}"
    plain = finding.code.replace("_", " ")
    return {
        "question_open": place,
        "not_measured": f"measure {place.rpartition('/')[2]}",
        "partner_open": f"{place.rpartition('/')[2]} open",
        "unacknowledged": "a warning to see",
        "not_run": f"not run: {place}",
    }.get(finding.code, plain)


def _who(role: str, verdict: Verdict, people: People) -> Iterator[str]:
    drew = {s.person for s in verdict.signed if s.role == "drawn" or s.self_check}
    alone = len(people) <= 1
    for name, roles in people:
        if role in roles and (alone or role != "checked" or name not in drew):
            yield name


def _any_of(names: Iterable[str]) -> str:
    names = tuple(names)
    if not names:
        return "nobody enrolled"
    return " or ".join(names) if len(names) <= _FEW else f"{names[0]} or {len(names) - 1} more"
