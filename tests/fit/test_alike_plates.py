"""Plates that differ by less than a limit are found, however they lie; the quick figures never rule one of them out."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Profile, profile_from_json
from ledger.fit.likeness import difference, likeness_of, read_likeness

LIMIT = 2.0
places = st.tuples(st.floats(-40, 40), st.floats(-25, 25))
shifts = st.tuples(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6))
poses = st.builds(Pose, st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500), st.booleans())


def plate(corners, centres, diameter=6.0):
    outline = Contour(tuple((x, y, 0.0) for x, y in corners))
    holes = tuple(Hole(f"H{k}", (c,), diameter) for k, c in enumerate(centres, 1))
    return Profile(outline=outline, outlines=(outline,), holes=holes)


def moved(profile, pose):
    outline = pose.place_contour(profile.outline)
    holes = tuple(Hole(h.label, tuple(map(pose.place, h.core)), h.diameter_mm) for h in profile.holes)
    return Profile(outline=outline, outlines=(outline,), holes=holes)


CORNERS = ((-60.0, -40.0), (60.0, -40.0), (60.0, 40.0), (-45.0, 40.0), (-60.0, 20.0))


@settings(max_examples=60)
@given(st.lists(places, min_size=0, max_size=8), poses)
def test_a_plate_is_the_same_however_it_lies(centres, pose):
    one = plate(CORNERS, centres)
    found = difference(one, moved(one, pose), limit_mm=LIMIT, same_mm=0.02)
    assert found.most_mm <= 0.02


@settings(max_examples=60)
@given(
    st.lists(st.tuples(places, shifts), min_size=1, max_size=6),
    st.lists(shifts, min_size=5, max_size=5),
    poses,
)
def test_plates_whose_every_feature_strays_a_little_are_never_ruled_out_by_their_figures(holes, edges, pose):
    """Moved by at most 0.85 mm each: no line lies farther than 0.85 mm from where it was."""
    one = plate(CORNERS, [c for c, _ in holes])
    corners = [(x + dx, y + dy) for (x, y), (dx, dy) in zip(CORNERS, edges, strict=True)]
    other = moved(plate(corners, [(x + dx, y + dy) for (x, y), (dx, dy) in holes]), pose)
    assert likeness_of(one).may_be_within(likeness_of(other), LIMIT)


@settings(max_examples=60)
@given(st.lists(places, min_size=1, max_size=8), st.floats(2.5, 20), poses)
def test_a_hole_that_is_farther_away_than_the_limit_is_seen(centres, away, pose):
    """The hole moves along y by more than the limit, out of the reach of every other one."""
    one = plate(CORNERS, [*centres, (0.0, 33.0)])
    other = moved(plate(CORNERS, [*centres, (away - 2.5, 33.0)], 6.0), pose)
    grown = moved(plate(CORNERS, [*centres, (0.0, 33.0)], 6.0 + away), pose)
    assert difference(one, grown, limit_mm=LIMIT, same_mm=0.02).most_mm > LIMIT
    if away > 5:
        assert difference(one, other, limit_mm=LIMIT, same_mm=0.02).most_mm > 0.02


@settings(max_examples=40)
@given(st.lists(places, min_size=0, max_size=8), poses)
def test_a_likeness_is_the_same_when_it_was_written_down_and_however_the_plate_lies(centres, pose):
    one = plate(CORNERS, centres)
    kept = read_likeness(likeness_of(profile_from_json(moved(one, pose).to_json())).written)
    assert kept.may_be_within(likeness_of(one), 0.0)


def test_a_text_that_is_no_likeness_is_none():
    assert read_likeness("") is None
    assert read_likeness("1 2 x 4 5") is None
    assert read_likeness("4 0 1 2") is None
