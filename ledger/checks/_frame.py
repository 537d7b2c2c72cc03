"""
What a check must declare, and how its cases are run.

A check is a generator function with a source, codes and a severity; it yields findings. One that lacks any of
these refuses to import. A check that says it could not look raises `NotRun`; one that fails raises anything else.
Both stop: silence is never a pass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from ledger.domain.finding import Finding, Severity
from ledger.domain.gate import Outcome

Rule = Callable[[Any], Iterator[Finding]]


class NotRun(Exception):  # noqa: N818 - it is a state of a check, not a fault
    """This check could not look at this case; the reason is shown and stops the release."""


class DoesNotApply(Exception):  # noqa: N818 - likewise
    """This check has nothing to look at here; the reason joins what was not checked, where it matters."""

    def __init__(self, reason: str = "") -> None:
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class Check:
    """One rule: its name, what it is about, why, its source, codes and default severity."""

    name: str
    on: type
    why: str
    source: str
    codes: tuple[str, ...]
    severity: Severity
    not_checked: str
    rule: Rule

    def run(self, case: Any, subject: str) -> Outcome:
        """Look at one case. Never raises: what goes wrong is an outcome that stops."""
        try:
            found = tuple(self.rule(case))
            self._own(found)
        except DoesNotApply as reason:
            return Outcome(self.name, subject, "does not apply", (), str(reason))
        except NotRun as reason:
            return Outcome(self.name, subject, "not run", (), str(reason))
        except Exception as fault:  # noqa: BLE001 - a crashed check must stop the release, whatever it was
            return Outcome(self.name, subject, "error", (), f"{type(fault).__name__}: {fault}")
        return Outcome(self.name, subject, "ran", found, self.not_checked)

    def _own(self, found: tuple[Finding, ...]) -> None:
        strange = {f.code for f in found} - set(self.codes)
        if strange:
            raise ValueError(f"{self.name} gave codes it does not declare: {sorted(strange)}")


def check(
    *, on: type, source: str, codes: tuple[str, ...], severity: Severity | Literal["as read"] = "stop", not_checked: str = ""
) -> Callable[[Rule], Check]:
    """
    Make a check of a generator function. Its docstring is its reason, its module's docstring its title.

    Raises TypeError when anything is missing: a check without a source or a reason must not be shipped.
    """

    def declare(rule: Rule) -> Check:
        import sys

        title = (sys.modules[rule.__module__].__doc__ or "").strip()
        if not (title and (rule.__doc__ or "").strip() and source.strip() and codes):
            raise TypeError(f"check {rule.__name__} needs a title, a reason, a source and its codes")
        default: Severity = "stop" if severity == "as read" else severity
        why = " ".join((rule.__doc__ or "").split())
        return Check(rule.__name__, on, why, source, codes, default, not_checked, rule)

    return declare
