"""Bend lines keep their labels, and a bend is read from one line or refused with what is wrong."""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.domain.bend import Bend, bend_lines, ends_of, lost_bends, read_bend_angle, read_k_factor
from ledger.domain.bend_words import bend_words, read_bend
from ledger.domain.errors import BadInput
from ledger.domain.quantity import read_length
from ledger.domain.shape import Stroke


def line(y, width=100.0):
    return Stroke(((0.0, y, 0.0), (width, y, 0.0)), "BEND")


def bend(label, y):
    return Bend(label, ((0.0, y), (100.0, y)), Decimal(90), "up")


def heights(found):
    return {label: s.vertices[0][1] for label, s in found.items()}


def test_bend_lines_are_labelled_in_their_order():
    assert heights(bend_lines([line(10), line(30)])) == {"B1": 10, "B2": 30}


def test_a_bend_that_was_spoken_of_keeps_its_label_when_another_line_comes_first():
    assert heights(bend_lines([line(10), line(30)], [bend("B1", 30)])) == {"B1": 30, "B2": 10}


def test_a_bend_follows_its_line_a_little():
    assert heights(bend_lines([line(10), line(34)], [bend("B1", 30)])) == {"B1": 34, "B2": 10}
    assert lost_bends([line(10), line(34)], [bend("B1", 30)]) == ()


def test_a_line_that_lies_where_it_lay_goes_before_one_that_moved():
    found = bend_lines([line(30), line(36)], [bend("B2", 36), bend("B1", 29)])
    assert heights(found) == {"B1": 30, "B2": 36}


def test_a_line_that_moved_far_is_lost_and_its_label_is_free():
    known = [bend("B1", 30)]
    assert heights(bend_lines([line(60)], known)) == {"B1": 60}
    assert lost_bends([line(60)], known) == tuple(known)


def test_a_line_drawn_the_other_way_is_the_same():
    turned = Stroke(((100.0, 30.0, 0.0), (0.0, 30.0, 0.0)), "BEND")
    assert lost_bends([turned], [bend("B1", 30)]) == ()


def test_a_line_with_a_corner_or_an_arc_is_not_straight():
    assert ends_of(Stroke(((0.0, 0.0, 0.0), (50.0, 5.0, 0.0), (100.0, 0.0, 0.0)))) is None
    assert ends_of(Stroke(((0.0, 0.0, 0.4), (100.0, 0.0, 0.0)))) is None
    assert ends_of(Stroke(((0.0, 0.0, 0.0), (50.0, 0.0, 0.0), (100.0, 0.0, 0.0)))) == (
        (0.0, 0.0),
        (100.0, 0.0),
    )


def test_a_bend_is_read_from_one_line_and_written_back_the_same():
    fields = read_bend("90 deg up, R 3 mm, K 0.44, ±0.3 mm")
    assert fields == {
        "angle": "90 deg",
        "direction": "up",
        "radius": "3 mm",
        "k_factor": "0.44",
        "tolerance": "0.3 mm",
    }
    made = Bend(
        "B1",
        ((0.0, 0.0), (1.0, 0.0)),
        Decimal(90),
        "up",
        radius=read_length("3 mm"),
        k_factor=Decimal("0.44"),
        tolerance=read_length("0.3 mm"),
    )
    assert read_bend(bend_words(made)) == fields


@pytest.mark.parametrize(
    ("words", "angle", "direction"),
    [("down 45°", "45°", "down"), ("90 deg UP", "90 deg", "up"), ("37.5 deg down", "37.5 deg", "down")],
)
def test_angle_and_direction_are_read_in_either_order(words, angle, direction):
    assert read_bend(words) == {"angle": angle, "direction": direction}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("90 deg", "up or down"),
        ("up 90 deg down", "up or down"),
        ("0 deg up", "flat"),
        ("180 deg up", "shut on itself"),
        ("270 deg up", "below 180"),
        ("90 deg up, R 0 mm", "above zero"),
        ("90 deg up, K 0.7", "at most 0.5"),
        ("90 deg up, K 0", "above 0"),
        ("90 deg up, K -0.2", "above 0"),
        ("90 deg up, R 3 mm, R 4 mm", "entered twice"),
        ("90 deg up, R 3", "unit"),
        ("90 deg up, sharp", "expected"),
        ("90 kg up", "angle"),
    ],
)
def test_what_cannot_be_bent_is_refused_with_the_reason(words, says):
    with pytest.raises(BadInput, match=says):
        read_bend(words)


@pytest.mark.parametrize("text", ["nan", "inf", "0.51", "1/0", "", "1e-400"])
def test_a_k_factor_is_a_number_above_0_and_at_most_a_half(text):
    with pytest.raises(BadInput):
        read_k_factor(text)


def test_the_ends_of_the_range_of_angles_are_left_out():
    for text in ("0 deg", "180 deg"):
        with pytest.raises(BadInput):
            read_bend_angle(text)
    assert read_bend_angle("179.9 deg") == Decimal("179.9")
