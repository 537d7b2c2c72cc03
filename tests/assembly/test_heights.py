"""Heights of flat parts laid on each other are sums of their thicknesses, whichever way they are reached."""

from __future__ import annotations

import pytest

from ledger.assembly.heights import Layer, between_tops, height_of, levels

THICK = {"BASE": 12.0, "LEFT": 10.0, "RIGHT": 10.0, "BRIDGE": 6.0}
FRAME = (
    Layer("LEFT-BASE", "LEFT", "BASE"),
    Layer("RIGHT-BASE", "RIGHT", "BASE"),
    Layer("BRIDGE-LEFT", "BRIDGE", "LEFT"),
    Layer("BRIDGE-RIGHT", "BRIDGE", "RIGHT"),
)


def height(start, end, layers, thick=None):
    found, _ = levels(start, layers)
    return height_of(between_tops(start, end, found), thick or THICK)


@pytest.mark.parametrize("start", list(THICK))
def test_a_bridge_over_two_posts_lies_as_high_from_wherever_it_is_asked(start):
    assert height(start, "BRIDGE", FRAME) - height(start, "BASE", FRAME) == pytest.approx(16.0)


def test_posts_of_one_thickness_close_and_others_leave_a_step():
    _, steps = levels("BASE", FRAME)
    (step,) = steps
    assert height_of(step.shares, THICK) == pytest.approx(0.0)
    assert abs(height_of(step.shares, {**THICK, "RIGHT": 8.0})) == pytest.approx(2.0)


def test_a_part_under_another_is_lower():
    assert (
        height(
            "BASE",
            "CLIP",
            (Layer("CLIP-BASE", "CLIP", "BASE", underneath=True),),
            {"BASE": 12.0, "CLIP": 5.0},
        )
        == -12.0
    )


def test_on_a_part_that_is_turned_over_the_drawn_face_is_below():
    layers = (Layer("A-B", "A", "B", turned_over=True), Layer("C-A", "C", "A"))
    thick = {"A": 4.0, "B": 10.0, "C": 3.0}
    found, _ = levels("B", layers)
    assert not found["A"].top_up
    assert height_of(found["C"].shares, thick) == pytest.approx(5.0 - 1.5)  # under A, beside B
