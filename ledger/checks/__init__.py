"""
The checks, one rule a file, found by walking this package.

A module whose name begins with an underscore is the frame, not a rule. A rule that fails to import is fatal:
a check that silently is not there would let parts pass.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from ledger.checks._frame import Check


@cache
def all_checks() -> tuple[Check, ...]:
    """Every check of this package, by name."""
    found: list[Check] = []
    for module in iter_modules(__path__):
        if module.name.startswith("_"):
            continue
        rules = [v for v in vars(import_module(f"{__name__}.{module.name}")).values() if isinstance(v, Check)]
        if [r.name for r in rules] != [module.name]:
            raise ImportError(f"checks/{module.name}.py must hold exactly one check, named like the file")
        found.extend(rules)
    return tuple(sorted(found, key=lambda c: c.name))


def known_codes() -> tuple[str, ...]:
    """Every code that a check can give, by name."""
    return tuple(sorted({code for c in all_checks() for code in c.codes}))


def source_of(code: str) -> str:
    """The source of the check that gives a code; empty for a code of the gate or the reader."""
    return next((c.source for c in all_checks() if code in c.codes), "")


def describe() -> list[tuple[str, str, str, tuple[str, ...]]]:
    """(name, title, source, codes) of every check, by name: what a table of checks shows."""
    return [(c.name, c.title, c.source, c.codes) for c in all_checks()]


def readme_table() -> str:
    """The table of checks that README shows, between its two markers."""
    lines = ["| check | looks at | source | codes |", "|---|---|---|---|"]
    for name, title, source, codes in describe():
        own = ", ".join(f"`{c}`" for c in codes)
        lines.append(f"| `{name}` | {' '.join(title.split())} | {source} | {own} |")
    return "\n".join(lines)
