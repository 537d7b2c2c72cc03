"""
How quick the reader is, against the CAD library alone on the same files in the same run.

FITUP_CORPUS may name a folder of real files, which are then read too.
"""

from __future__ import annotations

import math
import os
import resource
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import ezdxf
import pytest
from ezdxf import path as ezdxf_path
from many_parts import grid_of_holes, plate_of

from ledger.profile.cache import once
from ledger.profile.contours import join
from ledger.profile.piece import Piece
from ledger.profile.read import read_profiles
from ledger.profile.write import write_profile

pytestmark = pytest.mark.bench
FILES = 100
AT_MOST, SECOND_TIMES, GROWTH = 1.3, 50, 1.6


@pytest.fixture
def say(capsys):
    def out(text):
        with capsys.disabled():
            print(text)  # noqa: T201 - the numbers are what a bench is for

    return out


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A hundred plates, or the folder of real files."""
    real = os.environ.get("FITUP_CORPUS")
    if real:
        return sorted(p for p in Path(real).rglob("*") if p.suffix.lower() == ".dxf")
    place = tmp_path_factory.mktemp("plates")
    for k in range(FILES):
        shape = grid_of_holes(120) if k % 10 == 0 else plate_of(k)
        (place / f"{k}.dxf").write_bytes(write_profile(shape))
    return sorted(place.iterdir())


def plainly(file):
    """Load and flatten every path, with the CAD library alone."""
    try:
        document = ezdxf.readfile(file)
    except (OSError, ezdxf.DXFError):
        return 0
    points = 0
    for entity in document.modelspace():
        try:
            points += len(list(ezdxf_path.make_path(entity).flattening(0.01)))
        except (TypeError, ValueError, ArithmeticError):
            continue
    return points


def seconds(work):
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def test_a_folder_is_read_nearly_as_quickly_as_it_is_merely_loaded(folder, say):
    files = [f.read_bytes() for f in folder]
    read_profiles(files[:4])
    with ProcessPoolExecutor(2) as two:
        list(two.map(plainly, folder[:4]))
        plain_pool = seconds(lambda: list(two.map(plainly, folder)))
    plain = seconds(lambda: [plainly(f) for f in folder])
    once.forget()
    ours = seconds(lambda: read_profiles(files))
    again = seconds(lambda: read_profiles(files))
    say(
        f"\n{len(files)} files: ours {ours:.2f} s, library alone {plain:.2f} s, on two cores {plain_pool:.2f} s"
    )
    say(f"ratio {ours / plain:.2f} (goal {AT_MOST:g}), to the library on two cores {ours / plain_pool:.2f}")
    say(f"again {again * 1e3:.1f} ms: {ours / again:.0f} times quicker (goal {SECOND_TIMES})")
    assert ours < AT_MOST * plain
    assert ours > SECOND_TIMES * again


def ring(count):
    """A contour of so many lines, in an order that helps nobody."""
    step = 7919
    corners = [
        (1000 * math.cos(2 * math.pi * k / count), 1000 * math.sin(2 * math.pi * k / count))
        for k in range(count)
    ]
    order = [(k * step) % count for k in range(count)]
    return [
        Piece("LINE", "0", ((*corners[k], 0.0), (*corners[(k + 1) % count], 0.0)), closed=False)
        for k in order
    ]


def test_contours_grow_like_n_log_n(say):
    times = {}
    for count in (1_000, 10_000, 100_000):
        pieces = ring(count)
        times[count] = min(
            seconds(lambda pieces=pieces: join(pieces, [])) for _ in range(3 if count < 100_000 else 1)
        )
        say(f"\n{count:>7} segments {times[count] * 1e3:8.1f} ms, {times[count] / count * 1e6:.2f} µs each")
    for small, large in ((1_000, 10_000), (10_000, 100_000)):
        fair = (large * math.log(large)) / (small * math.log(small))
        assert times[large] < GROWTH * fair * times[small]


def test_the_memory_of_the_parent_stays_flat_over_200_files(say):
    shapes = [write_profile(plate_of(k)) for k in range(200)]
    read_profiles(shapes[:40])
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    read_profiles(shapes)
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    say(f"\nparent grew by {grown:.1f} MB over 200 files")
    assert grown < 20
