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


def shows(profile, places):
    """Whether the profile has a hole at every one of these places."""
    return all(any(math.dist(h.centre, place) < NEAR_MM for h in profile.holes) for place in places)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: p["title"])
def test_the_shared_pattern_of_two_real_plates_is_found(pair):
    profiles = [profile_of(pair, side) for side in ("A", "B")]
    for profile, side in zip(profiles, ("a_xy", "b_xy"), strict=True):
        assert shows(profile, [hole[side] for hole in pair["hole_pairs"]])
    a, b = (Ply(profile.holes) for profile in profiles)
    bolt = 0.9 * min(min(d) for d in pair["dia_pairs"])
    found = compare(a, b, bolt=bolt)
    assert found.verdict == "GO"
    assert found.proven
    assert len(found.pairs) >= pair["matched_holes"]
    stated = pair["transform"]
    pose = Pose(stated["rot_deg"], stated["tx"], stated["ty"], stated["mirror"])
    there = compare(a, b, bolt=bolt, located=pose)
    assert len(there.pairs) == len(found.pairs)
    assert there.margin_mm <= found.margin_mm + NEAR_MM or there.wrong
