"""
An interface holds what a connection's checks read of a part, no more and no less: the material where one of them reads
it.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builders import case_of, told_by

from ledger.cases.surroundings import OF_CONNECTIONS
from ledger.checks import all_checks
from ledger.domain import digest

PLATE = {"plate": "-17 -17 77 17", "holes": ["0 0 13.5", "60 0 13.5"], "thickness": "4 mm"}
SITE = {"form": "site", "holes": ["0 0 10.2", "60 0 10.2"], "thickness": "14 mm"}
BENT = {
    **PLATE,
    "plate": "-17 -50 77 17",
    "bends": ["-17 -40, 77 -40"],
    "bend_lines": ["B1 90 deg up, R 4 mm"],
}
CONNECTIONS = {
    "bolted plates": ({}, PLATE, True),
    "a bent plate that is bolted": ({}, BENT, True),
    "a plate on studs of the site": ({"joint": "stud"}, SITE, False),
    "a plate bolted in threads of the site": ({"joint": "tapped"}, SITE, True),
    "a plate bolted through a site part": ({"joint": "through"}, SITE, False),
    "a plate on dowels of the site": ({"joint": "dowel"}, SITE, False),
    "plates side by side": ({"kind": "beside", "gap": "1..3 mm", "position": "120 0 0"}, PLATE, False),
    "a plate welded on another": ({"kind": "welded", "gap": "0..2 mm", "position": "120 0 0"}, PLATE, False),
    "a bent plate welded on another": ({"kind": "welded", "position": "120 0 0"}, BENT, False),
}
OTHERS = ("mild steel", "6061-T6", "brass", "oak", "")


def case(connection, other, material):
    return {"a": PLATE, "b": {**other, "material": material}, "connection": connection, "fastener": "M12"}


def interfaces(connection, other, **changed):
    found = case_of({"a": PLATE, "b": {**other, **changed}, "connection": connection})
    return [p.interface for p in found.plies]


def told(connection, other, material):
    """Everything that the checks of connections say of it, were they shown the material or not."""
    whole = case(connection, other, material)
    return [
        (o.check, o.state, o.reason, o.findings)
        for o in (told_by(c, whole, "CONNECTION") for c in all_checks() if c.on in OF_CONNECTIONS)
    ]


@pytest.mark.parametrize(("connection", "other", "read"), CONNECTIONS.values(), ids=CONNECTIONS)
def test_another_material_changes_the_face_where_some_check_of_the_connection_reads_it(
    connection, other, read
):
    before, after = (
        interfaces(connection, other, material="S275"),
        interfaces(connection, other, material="6061-T6"),
    )
    assert before[0] == after[0]
    assert (before[1] != after[1]) is read


@pytest.mark.parametrize(("connection", "other", "read"), CONNECTIONS.values(), ids=CONNECTIONS)
def test_checks_say_something_else_of_another_material_only_where_it_is_in_the_face(connection, other, read):
    differ = any(told(connection, other, m) != told(connection, other, OTHERS[0]) for m in OTHERS[1:])
    assert differ is read


def test_a_note_a_vendor_a_grain_and_a_quantity_are_in_no_face():
    for connection, other, _ in CONNECTIONS.values():
        said = {"note": "deburr", "said": (("grain", "x"),), "quantity": 7, "title": "base"}
        assert interfaces(connection, other) == interfaces(connection, other, **said)


def test_what_holds_no_thread_shows_its_face_without_its_material():
    found = case_of(case({"joint": "tapped"}, SITE, "S275"))
    site = found.plies[1].part
    first, last = (replace(found.connection, plies=found.connection.plies[::step]) for step in (-1, 1))
    assert digest.reads_material(site, found.connection.plies[1], last)
    assert not digest.reads_material(site, found.connection.plies[1], first)
