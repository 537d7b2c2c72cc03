"""Pairs of real files that share a hole pattern: the pattern is found, where it was stated or as good elsewhere."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path

import pytest
from plates_of_holes import compare

from ledger.domain.pose import Pose
from ledger.fit.pattern import Ply
from ledger.profile.read import read_profile

FOLDER = Path(os.environ.get("FITUP_CORPUS", "."))
LISTED = FOLDER / "pairs.json"
PAIRS = json.loads(LISTED.read_text("utf-8")) if LISTED.exists() else []
NEAR_MM = 0.02

pytestmark = [pytest.mark.corpus, pytest.mark.skipif(not PAIRS, reason="FITUP_CORPUS names no folder")]


def profile_of(pair, side):
    inches = float(pair["units"][f"scale{side}"]) == 25.4
    return read_profile((FOLDER / pair[side]["file"]).read_bytes(), unit="in" if inches else "mm")


def named_holes(profile, pair, side):
    """The holes of a pair's list; of several about one middle the one nearest in size."""
    found = []
    for hole in pair["hole_pairs"]:
        here = [h for h in profile.holes if math.dist(h.centre, hole[f"{side}_xy"]) < NEAR_MM]
        found.append(min(here, key=lambda h: abs(h.diameter_mm - hole[f"{side}_dia"])))
    return tuple(found)


def shows(profile, places):
    """Whether the profile has a hole at every one of these places."""
    return all(any(math.dist(h.centre, place) < NEAR_MM for h in profile.holes) for place in places)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: p["title"])
def test_the_shared_pattern_of_two_real_plates_is_found(pair):
    profiles = [profile_of(pair, side) for side in ("A", "B")]
    for profile, side in zip(profiles, ("a_xy", "b_xy"), strict=True):
        assert shows(profile, [hole[side] for hole in pair["hole_pairs"]])
    bolt = 0.9 * min(min(d) for d in pair["dia_pairs"])
    named = [named_holes(p, pair, side) for p, side in zip(profiles, "ab", strict=True)]
    found = compare(*(Ply(holes, declared=True) for holes in named), bolt=bolt)
    assert (found.verdict, found.proven) == ("GO", True)
    stated = pair["transform"]
    pose = Pose(stated["rot_deg"], stated["tx"], stated["ty"], stated["mirror"])
    there = compare(*(Ply(holes, declared=True) for holes in named), bolt=bolt, position=pose)
    assert len(there.pairs) == len(found.pairs)
    assert there.margin_mm <= found.margin_mm + NEAR_MM


@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: p["title"])
def test_two_real_plates_of_which_nothing_is_named_go_or_say_what_is_in_the_way(pair):
    """Holes that both plates leave over, or so few that agree among so many, are asked about and never passed."""
    profiles = [profile_of(pair, side) for side in ("A", "B")]
    bolt = 0.9 * min(min(d) for d in pair["dia_pairs"])
    found = compare(*(Ply(p.holes, outline=p.outline) for p in profiles), bolt=bolt)
    if found.verdict == "GO":
        assert found.proven
        assert len(found.pairs) >= pair["matched_holes"]
    else:
        asked = any("state" in note or "name the holes" in note for note in found.notes)
        assert all(found.left_over) or found.rival or asked, found.notes
