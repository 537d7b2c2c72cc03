"""
What a check must declare, and how its cases are run.

A check is a generator function with a title (its module's first line), a reason (its docstring), a source,
codes, a subject and a severity; it yields findings, and `NotChecked` for a matter of this case that it left
alone. One that lacks any of these refuses to import. A check that says it could not look raises `NotRun`; one
that fails raises anything else. Both stop: silence is never a pass.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from ledger.cases.answers import DoesNotApply, NoDrawing, NotChecked, NotRun
from ledger.cases.surroundings import OF_CONNECTIONS, OF_PARTS, OfConnection, OfPart
from ledger.domain.errors import BadInput
from ledger.domain.finding import SEVERITIES, Finding, Severity
from ledger.domain.verdict import Outcome

Rule = Callable[[Any], Iterator[Finding | NotChecked]]
Looked = TypeVar("Looked", bound=OfPart | OfConnection)


@dataclass(frozen=True, slots=True)
class Check:
    """
    One rule: its name, title, what it is about, why, its source, codes and default severity.

    A finding carries its own severity; the default is that of its gravest code and is what a table of checks
    shows.
    """

    name: str
    title: str
    on: type
    why: str
    source: str
    codes: tuple[str, ...]
    severity: Severity
    not_checked: str
    rule: Rule

    def run(self, case: Any, subject: str) -> Outcome:
        """
        Look at one case, of the type that the check declares. Never raises: what goes wrong is an outcome that stops.
        """
        try:
            said = tuple(self.rule(case))
            found = tuple(s for s in said if isinstance(s, Finding))
            self._own(found)
        except DoesNotApply as reason:
            return Outcome(self.name, subject, "does not apply", (), str(reason))
        except NoDrawing as reason:
            return Outcome(self.name, subject, "not run", (), str(reason), undrawn=reason.number or subject)
        except (NotRun, BadInput) as reason:  # what it was given cannot be judged, and the reason says why
            return Outcome(self.name, subject, "not run", (), str(reason))
        except Exception as fault:  # noqa: BLE001 - a crashed check must stop the release, whatever it was
            return Outcome(self.name, subject, "error", (), f"{type(fault).__name__}: {fault}")
        left = [self.not_checked, *(s.text for s in said if isinstance(s, NotChecked))]
        return Outcome(self.name, subject, "ran", found, "; ".join(text for text in left if text))

    def _own(self, found: tuple[Finding, ...]) -> None:
        strange = {f.code for f in found} - set(self.codes)
        if strange:
            raise ValueError(f"{self.name} gave codes that are not its own: {sorted(strange)}")


def check(
    *,
    on: type[Looked],
    source: str,
    codes: tuple[str, ...],
    severity: Severity,
    not_checked: str = "",
) -> Callable[[Callable[[Looked], Iterator[Finding | NotChecked]]], Check]:
    """
    Make a check of a generator function. Its docstring is its reason, its module's first line its title.

    `on` is the type of its argument, one of those in `cases`: the argument is all that it sees, and a kept outcome
    holds as long as the argument is the same.

    Raises TypeError when anything is missing or is of no such type: a check without a source or a reason must not be
    shipped.
    """
    if on not in (*OF_PARTS, *OF_CONNECTIONS):
        raise TypeError(f"a check looks at one of the types of cases, not at {on.__name__}")

    def declare(rule: Callable[[Looked], Iterator[Finding | NotChecked]]) -> Check:
        module = (sys.modules[rule.__module__].__doc__ or "").strip()
        title = module.partition("\n")[0].strip()
        why = " ".join((rule.__doc__ or "").split())
        if not (title and why and source.strip() and codes and all(codes) and severity in SEVERITIES):
            raise TypeError(
                f"check {rule.__name__} needs a title, a reason, a source, its codes and a severity"
            )
        return Check(rule.__name__, title, on, why, source, codes, severity, not_checked, rule)

    return declare
