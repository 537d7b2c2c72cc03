"""No fix tells anybody to change a part that stands on the site or is bought."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from case_builders import arguments_of, case_of, written_cases

from ledger.cases.build import Build
from ledger.cases.connections import ConnectionCase
from ledger.cases.surroundings import AssembledPart, BuiltPart
from ledger.checks import all_checks

CHECKS = {c.name: c for c in all_checks()}
CASES = [w for w in written_cases() if "part" not in w.data and w.data["expect"]]
_CHANGES = r"(?:\b(?:move|set|cut|trim|widen|add|make)\b|\bor else\b)"


def of_form(case, number, form):
    """The case, and what lies around it, with a part of another form wherever it occurs."""

    def turned(connection):
        if isinstance(connection, AssembledPart):
            return replace(connection, rings=tuple(tuple(map(turned, ring)) for ring in connection.rings))
        if isinstance(connection, BuiltPart):
            return replace(connection, build=Build(tuple(map(turned, connection.build.connections))))
        if not isinstance(connection, ConnectionCase):
            held = {
                name: getattr(connection, name) for name in ("around", "joined") if hasattr(connection, name)
            }
            near = {name: tuple(map(turned, cases)) for name, cases in held.items()}
            return replace(connection, case=turned(connection.case), **near)
        plies = tuple(
            replace(p, part=replace(p.part, form=form)) if p.part.number == number else p
            for p in connection.plies
        )
        return replace(connection, plies=plies)

    return turned(case)


def told_to_change(fix, number):
    """The clauses of a fix that change something of a part, or a hole of which the part is not named."""
    clauses = re.split(r"; |, or |, (?=move|turn|use|cut|widen)", fix)
    return [
        c
        for c in clauses
        if re.search(_CHANGES, c)
        and (re.search(rf"\b{number}\b", c) or re.search(r"\bH\d+\b(?!.* of )|the holes(?! larger| of )", c))
    ]


@pytest.mark.parametrize("written", CASES, ids=lambda w: w.ident)
def test_no_fix_changes_a_part_that_is_on_site_or_bought(written):
    check = CHECKS[written.check]
    argument = arguments_of(written.data)[check.on]
    for number in dict.fromkeys(p.part.number for p in case_of(written.data).plies):
        for form in ("site", "bought"):
            for finding in check.run(of_form(argument, number, form), "subject").findings:
                assert told_to_change(finding.fix, number) == []
