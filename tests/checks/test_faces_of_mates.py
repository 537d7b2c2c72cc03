"""A face holds what a mate's checks read of a part, no more and no less: the material where one of them reads it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builders import case_of

from ledger.checks import all_checks
from ledger.checks._case import MateCase
from ledger.domain import digest

PLATE = {"plate": "-17 -17 77 17", "holes": ["0 0 13.5", "60 0 13.5"], "thickness": "4 mm"}
SITE = {"form": "site", "holes": ["0 0 10.2", "60 0 10.2"], "thickness": "14 mm"}
FOLDED = {**PLATE, "plate": "-17 -50 77 17", "bends": ["-17 -40, 77 -40"], "folds": ["B1 90 deg up, R 4 mm"]}
MATES = {
    "bolted plates": ({}, PLATE, True),
    "a folded plate that is bolted": ({}, FOLDED, True),
    "a plate on studs of the site": ({"joint": "stud"}, SITE, False),
    "a plate bolted in threads of the site": ({"joint": "tapped"}, SITE, True),
    "a plate bolted through a site part": ({"joint": "through"}, SITE, False),
    "a plate on dowels of the site": ({"joint": "dowel"}, SITE, False),
    "plates side by side": ({"kind": "beside", "gap": "1..3 mm", "located": "120 0 0"}, PLATE, False),
    "a plate welded on another": ({"kind": "welded", "gap": "0..2 mm", "located": "120 0 0"}, PLATE, False),
    "a folded plate welded on another": ({"kind": "welded", "located": "120 0 0"}, FOLDED, False),
}
OTHERS = ("mild steel", "6061-T6", "brass", "oak", "")


def case(mate, other, material):
    return case_of({"a": PLATE, "b": {**other, "material": material}, "mate": mate, "fastener": "M12"})


def faces(mate, other, **changed):
    found = case_of({"a": PLATE, "b": {**other, **changed}, "mate": mate})
    return [p.face for p in found.plies]


def told(mate, other, material):
    """Everything that the checks of mates say of it, were they shown the material or not."""
    whole = case(mate, other, material)
    return [
        (o.check, o.state, o.reason, o.findings)
        for o in (c.run(whole, "MATE") for c in all_checks() if c.on is MateCase)
    ]


@pytest.mark.parametrize(("mate", "other", "read"), MATES.values(), ids=MATES)
def test_another_material_changes_the_face_where_some_check_of_the_mate_reads_it(mate, other, read):
    before, after = faces(mate, other, material="S275"), faces(mate, other, material="6061-T6")
    assert before[0] == after[0]
    assert (before[1] != after[1]) is read


@pytest.mark.parametrize(("mate", "other", "read"), MATES.values(), ids=MATES)
def test_checks_say_something_else_of_another_material_only_where_it_is_in_the_face(mate, other, read):
    differ = any(told(mate, other, m) != told(mate, other, OTHERS[0]) for m in OTHERS[1:])
    assert differ is read


def test_a_note_a_vendor_a_grain_and_a_quantity_are_in_no_face():
    for mate, other, _ in MATES.values():
        said = {"note": "deburr", "grain": "x", "quantity": 7, "title": "base"}
        assert faces(mate, other) == faces(mate, other, **said)


def test_what_holds_no_thread_shows_its_face_without_its_material():
    found = case({"joint": "tapped"}, SITE, "S275")
    site = found.plies[1].part
    first, last = (replace(found.mate, plies=found.mate.plies[::step]) for step in (-1, 1))
    assert digest.reads_material(site, found.mate.plies[1], last)
    assert not digest.reads_material(site, found.mate.plies[1], first)
