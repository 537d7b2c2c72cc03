"""A headline fits its line whatever the names are, says its number, and is told again from a kept finding."""

from __future__ import annotations

import pytest

from ledger.domain.cause import RANKS
from ledger.domain.finding import Finding
from ledger.domain.headlines import _FORMS, LONGEST, headline

NAMES = ("B", "ARM-R", "COLUMN-TOP-PLATE-LEFT-HAND-SIDE", "W" * 64, "H1 H2 H3 H4 H5 H6 H7 H8 H9 H10 H11 H12")


def test_every_form_is_of_a_code_that_there_is():
    assert set(_FORMS) <= set(RANKS)


@pytest.mark.parametrize("code", sorted(_FORMS))
def test_a_headline_fits_whatever_the_names(code):
    for name in NAMES:
        for where in (name, f"{name}/{name}", f"{name}/{name}/{name}", f"{name}/{name}/{name}/{name}"):
            line = headline(
                code, f"{name} is not as it was: {name}", where, "1234.567 mm", ">= 1300.000 mm ±0.25 mm"
            )
            assert 0 < len(line) <= LONGEST
            assert "{" not in line


@pytest.mark.parametrize("code", sorted(c for c, form in _FORMS.items() if "{measured}" in form))
def test_the_number_that_was_found_is_in_the_headline(code):
    assert "7.25 mm" in headline(code, "long " * 20, "BASE-PIER/BASE/H1", "7.250 mm", ">= 9.000 mm")


def test_a_hole_and_its_part_are_the_subject():
    found = Finding("offset", "m" * 80, where="ARM-R-GUSSET/ARM-R/H5", measured="3.000 mm", limit="1.000 mm")
    assert found.headline == "H5 of ARM-R is 3.00 mm off (allows 1.00 mm)"


def test_many_holes_are_counted_where_there_is_no_room_for_their_labels():
    labels = " ".join(f"H{k}" for k in range(1, 30))
    found = headline("thread_asked", "m" * 80, f"BASE-PIER/BASE/{labels}", "6.800 mm", "")
    assert found == "H1 and 28 more of BASE of 6.80 mm: tapped, or plain?"


def test_a_message_with_no_form_is_cut_at_a_clause():
    message = (
        "the drawing has changed since it was taken: a line grew; take it again before anything is locked"
    )
    assert (
        headline("no_such_code", message, "profile", "", "")
        == "the drawing has changed since it was taken: a line grew"
    )
    assert headline("no_such_code", "w" * 30 + " " + "x" * 40, "", "", "") == "w" * 30 + "…"


def test_a_short_message_is_its_own_headline():
    assert headline("no_such_code", "PLATE has no material", "record", "", "") == "PLATE has no material"


def test_a_kept_finding_keeps_its_headline():
    found = Finding(
        "offset", "m" * 80, where="A-B/A/H1", measured="3.000 mm", limit="1.000 mm", short="as the check said"
    )
    again = Finding.from_json(found.to_json())
    assert again.headline == "as the check said"
    assert Finding.from_json(
        {k: v for k, v in found.to_json().items() if k != "headline"}
    ).headline.startswith("H1 of A")


def test_the_first_fix_is_one_and_the_others_are_apart():
    found = Finding("offset", "", fix="move H1 of A; or make a slot of it; use coarse holes")
    assert found.first_fix == "move H1 of A"
    assert found.other_fixes == ("make a slot of it", "use coarse holes")
