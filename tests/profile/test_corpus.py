"""Real files, where FITUP_CORPUS names a folder of them: each is usable, or stops with a reason, or is refused."""

from __future__ import annotations

import os
import time
from collections import Counter
from pathlib import Path

import pytest

from ledger.domain.errors import Unreadable
from ledger.domain.plates import plate_drawing
from ledger.domain.shape import profile_from_json
from ledger.papers.svg import svg
from ledger.profile.read import geometry_digest, read_profile
from ledger.profile.write import write_profile

pytestmark = pytest.mark.corpus

LONGEST_SECONDS = 12.0


def files():
    folder = os.environ.get("FITUP_CORPUS", "")
    return sorted(p for p in Path(folder).rglob("*") if p.suffix.lower() == ".dxf") if folder else []


@pytest.fixture(scope="module")
def found():
    """Every file read once: path to (profile or refusal, seconds)."""
    if not files():
        pytest.skip("FITUP_CORPUS names no folder with DXF files")
    out = {}
    for path in files():
        began = time.monotonic()
        try:
            result = read_profile(path.read_bytes())
        except Unreadable as refusal:
            result = refusal
        out[path] = (result, time.monotonic() - began)
    return out


def test_every_file_is_usable_or_says_why_not(found):
    counts = Counter()
    for path, (result, _) in found.items():
        if isinstance(result, Unreadable):
            assert str(result), path
            counts["refused"] += 1
        else:
            stops = {f.code for f in result.findings if f.severity == "stop"}
            assert result.usable or stops, path
            counts["usable" if result.usable else "stopped"] += 1
            counts.update(stops)
    print(dict(counts))  # noqa: T201 - the count is what one runs this for


def test_no_file_hangs(found):
    assert max(seconds for _, seconds in found.values()) < LONGEST_SECONDS


def test_a_clean_copy_of_every_usable_file_is_clean_and_has_its_shape(found):
    for path, (result, _) in found.items():
        if isinstance(result, Unreadable) or not result.usable:
            continue
        copy = read_profile(write_profile(result), unit="mm")
        assert copy.usable, path
        assert copy.area_mm2 == pytest.approx(result.area_mm2, rel=1e-6, abs=1e-3), path
        assert len(copy.holes) == len(result.holes), path
        assert svg(plate_drawing(copy, copy.holes)).startswith(b"<svg"), path
        assert profile_from_json(result.to_json()) == result, path
        assert len(geometry_digest(result)) == 64, path
