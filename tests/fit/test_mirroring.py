"""A mirror image is one however it lies and wherever its rings begin; what was joined or moved otherwise is none."""

import math
import tracemalloc

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Profile
from ledger.fit.likeness import difference
from ledger.fit.lines import lines_apart_mm, lines_of
from ledger.fit.mirroring import SAGITTA_MM, apart_mm, departure_mm

SAME_MM = 0.01
mirrors = st.builds(
    Pose, st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500), st.just(True)
)  # fmt: skip


def around(x, y, radius, first_deg=0.0, pieces=2):
    """A full circle of arcs that begins anywhere."""
    turns = [math.radians(first_deg) + 2 * math.pi * k / pieces for k in range(pieces)]
    return Contour(
        tuple(
            (x + radius * math.cos(t), y + radius * math.sin(t), math.tan(math.pi / 2 / pieces))
            for t in turns
        )
    )


def ring(*corners):
    return Contour(tuple((float(x), float(y), 0.0) for x, y in corners))


def drawn(outline, holes=(), openings=()):
    named = tuple(Hole(f"H{k}", ((float(x), float(y)),), float(d)) for k, (x, y, d) in enumerate(holes, 1))
    return Profile(outline=outline, outlines=(outline,), holes=named, openings=tuple(openings))


def moved(profile, pose):
    outline = pose.place_contour(profile.outline)
    holes = tuple(Hole(h.label, tuple(map(pose.place, h.core)), h.diameter_mm) for h in profile.holes)
    return Profile(
        outline=outline,
        outlines=(outline,),
        holes=holes,
        openings=tuple(map(pose.place_contour, profile.openings)),
    )


@st.composite
def rings(draw, reach):
    """A ring of lines and arcs, or a circle that begins anywhere, or one with flats."""
    kind = draw(st.sampled_from(["star", "circle", "flats"]))
    turn = draw(st.floats(0, 360))
    if kind == "circle":
        return around(0, 0, reach, turn, draw(st.integers(2, 5)))
    if kind == "flats":
        arcs = (0.5, math.radians(100), math.pi + 0.5, math.radians(280))
        bulges = (math.tan((arcs[1] - arcs[0]) / 4), 0.0, math.tan((arcs[3] - arcs[2]) / 4), 0.0)
        return Contour(
            tuple(
                (reach * math.cos(t + turn), reach * math.sin(t + turn), b)
                for t, b in zip(arcs, bulges, strict=True)
            )
        )
    count = draw(st.integers(3, 7))
    radii = draw(st.lists(st.floats(0.5, 1), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.2, -0.15]), min_size=count, max_size=count))
    return Contour(
        tuple(
            (reach * r * math.cos(t), reach * r * math.sin(t), b)
            for r, t, b in zip(
                radii,
                (math.radians(turn) + 2 * math.pi * k / count for k in range(count)),
                bulges,
                strict=True,
            )
        )
    )


@st.composite
def plates(draw):
    spots = st.tuples(st.floats(-18, 18), st.floats(-18, 18))
    holes = [(x, y, draw(st.sampled_from([5.5, 9, 13.5]))) for x, y in draw(st.lists(spots, max_size=4))]
    openings = []
    for x, y in draw(st.lists(spots, max_size=2)):
        openings.append(Pose(0.0, x, y).place_contour(draw(rings(6.0))))
    return drawn(draw(rings(60.0)), holes, openings)


def restarted(contour, by):
    v = contour.vertices
    return Contour(v[by % len(v) :] + v[: by % len(v)])


def split(contour):
    """The same ring with every arc and line in two pieces."""
    halves = []
    for (ax, ay), (bx, by), bulge in contour.edges():
        k = math.tan(math.atan(bulge) / 2)
        height = bulge / 2
        middle = ((ax + bx) / 2 + (by - ay) * height, (ay + by) / 2 - (bx - ax) * height)
        halves += [(ax, ay, k), (*middle, k)]
    return Contour(tuple(halves))


@settings(max_examples=15)
@given(plates(), mirrors, st.integers(0, 6), st.booleans())
def test_a_mirror_image_departs_by_nothing_however_it_lies_and_wherever_its_rings_begin(
    one, pose, by, halved
):
    other = moved(one, pose)
    again = restarted(split(other.outline) if halved else other.outline, by)
    other = Profile(outline=again, outlines=(again,), holes=other.holes[::-1], openings=other.openings[::-1])
    assert departure_mm(one, other) <= SAME_MM
    assert difference(one, other, limit_mm=2.0, same_mm=0.02).most_mm <= 0.02


@settings(max_examples=25)
@given(plates(), mirrors, st.floats(0.1, 3), st.data())
def test_a_hole_that_grew_departs_by_half_of_that(one, pose, more, data):
    assume(one.holes)
    k = data.draw(st.integers(0, len(one.holes) - 1))
    grown = [
        (*h.centre, h.diameter_mm + (more if n == k else 0)) for n, h in enumerate(moved(one, pose).holes)
    ]
    other = moved(one, pose)
    apart = departure_mm(one, drawn(other.outline, grown, other.openings))
    twice = any(
        math.dist(h.centre, g.centre) < 8 for n, h in enumerate(one.holes) for g in one.holes[n + 1 :]
    )
    assert apart > SAME_MM
    if not twice:
        assert apart == pytest.approx(more / 2, abs=0.02)


@settings(max_examples=25)
@given(
    st.lists(st.floats(40, 60), min_size=4, max_size=7),
    st.tuples(st.floats(-8, 8), st.floats(-8, 8)),
    st.integers(1, 6),
    mirrors,
)
def test_the_same_corners_joined_in_another_order_depart(radii, dent, other_side, pose):
    """The dent is cut in from one side or from another."""
    turns = [2 * math.pi * k / len(radii) for k in range(len(radii))]
    corners = [(r * math.cos(t), r * math.sin(t)) for r, t in zip(radii, turns, strict=True)]
    k = other_side % len(radii)
    assume(k)
    first, second = ring(*corners, dent), ring(*corners[:k], dent, *corners[k:])
    straight, crooked = (shapely.Polygon([v[:2] for v in r.vertices]) for r in (first, second))
    far = shapely.hausdorff_distance(straight.exterior, crooked.exterior, densify=0.02)
    lines = lines_of((first,), SAGITTA_MM), lines_of((second,), SAGITTA_MM)
    assert far > 5
    assert lines_apart_mm(*lines, Pose()) == pytest.approx(far, abs=1.5)
    if not math.isclose(first.length_mm, second.length_mm, abs_tol=1):  # else it may be its own turned copy
        assert departure_mm(drawn(first), moved(drawn(second), pose)) > 0.02


def test_two_outlines_of_other_areas_with_the_same_corners_are_no_images_of_each_other():
    corners = [(0, 0), (20, 0), (20, 20), (10, 13), (0, 20)]
    hooked = [(0, 0), (10, 13), (20, 0), (20, 20), (0, 20)]
    one, other = ring(*corners), ring(*hooked)
    assert (one.area_mm2, other.area_mm2) == (330, 270)
    assert departure_mm(drawn(one), moved(drawn(other), Pose(30.0, 5.0, 5.0, turned_over=True))) > 1


def test_an_opening_alone_tells_how_a_round_plate_is_turned():
    one = drawn(around(0, 0, 60), openings=[ring((25, -6), (40, -6), (40, 6), (25, 10))])
    for angle in (0, 30, 77.7, 180, -110):
        other = moved(one, Pose(angle, 40.0, -3.0, turned_over=True))
        assert departure_mm(one, other) <= SAME_MM
    assert departure_mm(one, moved(one, Pose(30.0))) > 1


def test_a_round_plate_with_nothing_in_it_is_its_own_mirror_image():
    assert departure_mm(drawn(around(0, 0, 60)), drawn(around(7, 9, 60, 33.0, 3))) <= SAME_MM
    assert departure_mm(drawn(around(0, 0, 60)), drawn(around(7, 9, 60.5, 33.0, 3))) == pytest.approx(
        0.5, abs=0.01
    )


PLATE = ring((0, 0), (1000, 0), (1000, 1000), (0, 1000))


def most_unlike(holes, others):
    """Told a second time, hole by hole: how far each rim is from that of the other hole most like it."""

    def unlike(h, o):
        ends = min(max(map(math.dist, h.core, way)) for way in (o.core, o.core[::-1]))
        return ends + abs(h.diameter_mm - o.diameter_mm) / 2

    return max(min(unlike(h, o) for o in others) for h in holes)


@pytest.mark.parametrize("slotted", [False, True])
@pytest.mark.parametrize("many", [(1, 3), (40, 30), (300, 310)])
def test_a_hole_is_told_from_the_one_most_like_it_however_many_there_are(many, slotted):
    rng = np.random.default_rng(sum(many))

    def holes(n):
        for k in range(n):
            x, y = rng.uniform(0, 1000, 2)
            core = (
                ((x, y), (x + rng.uniform(-20, 20), y + rng.uniform(-20, 20)))
                if slotted
                else ((x, y), (x, y))
            )
            yield Hole(f"H{k}", core if slotted else core[:1], float(rng.choice([5, 6.5])))

    ours, theirs = (tuple(holes(n)) for n in many)
    plates = (Profile(outline=PLATE, outlines=(PLATE,), holes=h, openings=()) for h in (ours, theirs))
    pairs = [
        tuple(Hole(h.label, (h.core[0], h.core[-1]), h.diameter_mm) for h in some) for some in (ours, theirs)
    ]
    expected = max(most_unlike(*pairs), most_unlike(*pairs[::-1]))
    assert apart_mm(*plates, Pose(), near_mm=0.0) == pytest.approx(expected, abs=1e-9)


def test_holes_of_many_plates_cost_no_list_of_all_pairs_at_once():
    """Two thousand holes against themselves: one array of all their pairs alone would be 32 MB, five were made."""
    rng = np.random.default_rng(1)
    holes = tuple(
        Hole(f"H{k}", ((float(x), float(y)),), 5.0)
        for k, (x, y) in enumerate(rng.uniform(0, 1000, (2000, 2)))
    )
    plate = Profile(outline=PLATE, outlines=(PLATE,), holes=holes, openings=())
    tracemalloc.start()
    try:
        assert apart_mm(plate, plate, Pose(0.0, 1.0), near_mm=0.0) > 0
        assert tracemalloc.get_traced_memory()[1] < 20e6
    finally:
        tracemalloc.stop()
