"""Revision letters run A to Y without the misread ones, then AA."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.errors import BadInput
from ledger.standards.letters import LETTERS, letter_order, next_letter


def series(count):
    letters = itertools.accumulate(range(count), lambda last, _: next_letter(last), initial=next_letter(None))
    return list(letters)[:count]


def test_the_series_starts_with_a_and_skips_the_misread_letters():
    assert "".join(series(20)) == "ABCDEFGHJKLMNPRTUVWY"


def test_the_series_goes_on_with_two_letters():
    assert series(42)[20:] == ["A" + c for c in LETTERS] + ["BA", "BB"]


def test_the_last_two_letter_revision_is_followed_by_three():
    assert next_letter("YY") == "AAA"


@pytest.mark.parametrize("letter", ["", "I", "AO", "Z", "a", "1", "A1", "AAAA", "\x1b"])
def test_what_is_no_revision_letter_is_refused(letter):
    with pytest.raises(BadInput):
        next_letter(letter)


@given(st.text(LETTERS, min_size=1, max_size=2))
def test_each_letter_is_before_its_next(letter):
    assert letter_order(next_letter(letter)) == letter_order(letter) + 1
