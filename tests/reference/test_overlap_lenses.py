"""
Areas and arcs with known values: the lens of two discs, bulges, chords of bolt circles.

Sources beside each check. `identity` marks what follows from first principles and needs no publication.
"""

import math

import pytest

from ledger.domain.shape import Contour, Hole, arc_of
from ledger.fit.overlap import Region, overlap_area


def disc(x, diameter):
    return Region(Hole("H1", ((float(x), 0.0),), float(diameter)).contour())


LENSES = {
    "OEIS A133741: half of a unit disc": (1, 1, 0.8079455065990344, math.pi / 2),
    "the lens as large as both lunes, in part from memory": (1, 1, 0.5298641692055538, 2 * math.pi / 3),
    "Venn-Diagram-Lab, printed value for 1, 1, 1": (1, 1, 1, 1.2283696986087567),
    "identity, 5.5 and 5.5 apart 1": (5.5, 5.5, 1.0, 84.04834812477597),
    "identity, 6.75 and 6 apart 0.9": (6.75, 6.0, 0.9, 112.3565199292901),
    "identity, 7 and 6.5 apart 2": (7, 6.5, 2, 115.5768978135651),
}


@pytest.mark.parametrize(("r", "s", "apart", "area"), LENSES.values(), ids=LENSES)
@pytest.mark.parametrize("sagitta_mm", [0.01, 0.002, 1e-5])
def test_the_lens_of_two_discs_is_met_to_the_stated_error(r, s, apart, area, sagitta_mm):
    found = overlap_area(disc(0, 2 * r), disc(apart, 2 * s), sagitta_mm=sagitta_mm)
    assert abs(found.area_mm2 - area) <= found.error_mm2
    assert found.error_mm2 <= 2 * sagitta_mm * math.pi * (r + s)


@pytest.mark.parametrize(("r", "s", "apart", "area"), LENSES.values(), ids=LENSES)
def test_a_finer_sagitta_comes_nearer(r, s, apart, area):
    found = overlap_area(disc(0, 2 * r), disc(apart, 2 * s), sagitta_mm=1e-6)
    assert found.area_mm2 == pytest.approx(area, rel=1e-5)


def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle():
    """Identity (DXF reference: bulge of LWPOLYLINE): chord 10, bulge 0.5."""
    (_, cy), radius, _, sweep = arc_of((0.0, 0.0), (10.0, 0.0), 0.5)
    assert radius == pytest.approx(6.25, abs=1e-9)
    assert radius - abs(cy) == pytest.approx(2.5, abs=1e-9)
    assert math.degrees(sweep) == pytest.approx(106.26020470831196, abs=1e-9)


def test_a_bulge_of_one_is_a_half_circle():
    """Identity."""
    _, radius, _, sweep = arc_of((0.0, 0.0), (10.0, 0.0), 1.0)
    assert (radius, sweep) == pytest.approx((5.0, math.pi))


# Chordal factor table: chord of adjacent holes for a bolt circle of diameter 1, as printed to four figures.
CHORD_FACTORS = {
    3: 0.866,
    4: 0.7071,
    5: 0.5878,
    6: 0.5,
    7: 0.4339,
    8: 0.3827,
    9: 0.342,
    10: 0.309,
    12: 0.2588,
}


@pytest.mark.parametrize(("count", "factor"), CHORD_FACTORS.items())
def test_an_arc_over_the_chord_of_adjacent_holes_has_the_radius_of_the_bolt_circle(count, factor):
    _, radius, _, _ = arc_of((0.0, 0.0), (factor, 0.0), math.tan(math.pi / (2 * count)))
    assert 2 * radius * math.sin(math.pi / count) == pytest.approx(factor)
    assert radius == pytest.approx(0.5, abs=6e-5 / factor)


def test_arcs_over_the_printed_holes_of_a_circle_close_it():
    """Machinery's Handbook 31st ed. p. 709 example 1: five holes on a circle of diameter 1, five figures."""
    xs, ys = [0, -0.47553, -0.29389, 0.29389, 0.47553], [-0.5, -0.15451, 0.40451, 0.40451, -0.15451]
    ring = Contour(tuple((x, y, -math.tan(math.pi / 10)) for x, y in zip(xs, ys, strict=True)))
    assert abs(ring.area_mm2) == pytest.approx(math.pi / 4, abs=2e-5)
    assert ring.length_mm == pytest.approx(math.pi, abs=5e-5)
    for a, b, bulge in ring.edges():
        assert arc_of(a, b, bulge)[0] == pytest.approx((0, 0), abs=2e-5)
