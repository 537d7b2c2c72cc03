"""A bent part from the side: its flanges as long as the flat less what the bends take, at the angles entered."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "packet"))

from packet_samples import plate, rectangle, taken
from shapely.geometry import Polygon
from sheet_samples import ISSUE, bent_part, printed, square_bend, words

from ledger.domain.bend import Bend, ends_of
from ledger.domain.quantity import read_length
from ledger.domain.shape import Contour, Profile, Stroke
from ledger.papers.sheet import vendor_sheet
from ledger.papers.side_view import side_views
from ledger.standards.bending import bent_in


def strip(*bends, across=60.0, long=200.0, turned=False):
    """A strip with bend lines across it: (place, angle, direction); turned: the strip stands upright."""
    lines = [((place, 0.0), (place, across)) for place, *_ in bends]
    ring = rectangle(long, across)
    if turned:
        lines = [tuple((y, x) for x, y in line) for line in lines]
        ring = rectangle(across, long)
    strokes = tuple(Stroke(tuple((*p, 0.0) for p in line), "BEND") for line in lines)
    part = plate(
        taken=taken(Profile(ring, outlines=(ring,), bends=strokes)),
        operations=(),
        thickness=read_length("3 mm"),
    )
    known = tuple(
        Bend(label, ends_of(stroke), Decimal(angle), way, radius=read_length("4 mm"), k_factor=Decimal("0.4"))
        for (label, stroke), (_, angle, way) in zip(part.bend_lines.items(), bends, strict=True)
    )
    return replace(part, bends=known)


def section(part):
    (view,) = side_views(part)
    (ring,) = view.lines
    return view, Polygon(Contour(ring.vertices).flattened(0.001))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("angle", "way"), [(90, "up"), (90, "down"), (30, "up"), (135, "down")])
def test_one_bend_turns_what_is_beyond_it_by_its_angle_and_no_material_is_lost(angle, way, turned):
    part = strip((80.0, angle, way), turned=turned)
    view, ring = section(part)
    bent = bent_in(part, part.bends[0])
    straight = 80.0 - bent.allowance_mm / 2 + 120.0 - bent.allowance_mm / 2
    arc = math.radians(angle) * (4.0 + 1.5)
    assert ring.is_valid
    assert ring.area == pytest.approx(3.0 * (straight + arc), rel=1e-4)
    up = ring.bounds[3] if way == "up" else -ring.bounds[1]
    reach = math.sin(math.radians(angle)) * (120.0 - bent.allowance_mm / 2)
    assert up > reach
    assert [label.text for label in view.labels] == [f"B1: {angle}° {way}, R 4"]


def test_a_channel_and_a_step_differ_in_the_direction_of_one_bend():
    channel, step = (section(strip((60.0, 90, "up"), (140.0, 90, way)))[1] for way in ("up", "down"))
    assert channel.bounds[3] - channel.bounds[1] == pytest.approx(step.bounds[3] - step.bounds[1], abs=20)
    assert channel.bounds[2] - channel.bounds[0] < 0.75 * (step.bounds[2] - step.bounds[0])


def test_bends_that_no_one_section_crosses_have_a_view_each():
    ring = rectangle(200.0, 200.0)
    lines = (((60.0, 0.0), (60.0, 200.0)), ((100.0, 60.0), (200.0, 60.0)))
    strokes = tuple(Stroke(tuple((*p, 0.0) for p in line), "BEND") for line in lines)
    part = plate(taken=taken(Profile(ring, outlines=(ring,), bends=strokes)), operations=())
    known = tuple(Bend(label, ends_of(s), Decimal(90), "up") for label, s in part.bend_lines.items())
    assert [view.title for view in side_views(replace(part, bends=known))] == [
        "FROM THE SIDE, across B1",
        "FROM THE SIDE, across B2",
    ]


def test_an_inside_radius_that_nobody_entered_is_not_told_as_if_it_were():
    part = strip((80.0, 90, "up"))
    (view,) = side_views(replace(part, bends=(replace(part.bends[0], radius=None),)))
    assert [label.text for label in view.labels] == ["B1: 90° up"]


def test_where_a_bend_is_not_recorded_no_angle_is_guessed():
    part = strip((60.0, 90, "up"), (140.0, 90, "up"))
    assert side_views(replace(part, bends=part.bends[:1])) == ()
    assert side_views(replace(part, bends=())) == ()
    assert side_views(replace(part, thickness=None)) == ()


def test_the_view_stands_on_the_sheet_with_its_scale():
    said = words(vendor_sheet(bent_part(bends=(square_bend("B1"),)), ISSUE))
    assert "FROM THE SIDE, across B1; scale 1:" in said
    assert any(
        text == "B1: 90° up, R 3"
        for *_, text in printed(vendor_sheet(bent_part(bends=(square_bend("B1"),)), ISSUE))
    )
    assert "FROM THE SIDE" not in words(vendor_sheet(bent_part(), ISSUE))
