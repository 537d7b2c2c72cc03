"""The lengths between holes, held to comparing every two of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.fit.layout import Plane
from ledger.fit.lengths import alike, lengths_of

PLACES = st.lists(
    st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)).map(lambda xy: complex(*xy)),
    min_size=2,
    max_size=12,
).map(np.array)


def _apart(points: Plane) -> dict[tuple[int, int], float]:
    k, m = np.triu_indices(len(points), 1)
    return {(int(i), int(j)): abs(points[i] - points[j]) for i, j in zip(k, m, strict=True)}


@given(PLACES, st.floats(0, 3e4), st.floats(0, 100))
def test_no_pair_between_two_lengths_is_left_out_and_each_is_told_once(
    points: Plane, low: float, width: float
) -> None:
    told = [(int(k), int(m)) for k, m in lengths_of(points).between(low, low + width).T]
    assert len(told) == len(set(told))
    assert set(told) >= {pair for pair, mm in _apart(points).items() if low <= mm <= low + width}


@given(PLACES)
def test_a_length_asked_for_exactly_is_found_at_both_ends_of_the_scale(points: Plane) -> None:
    lengths = lengths_of(points)
    for pair, mm in _apart(points).items():
        assert pair in {(int(k), int(m)) for k, m in lengths.between(mm, mm).T}


def test_what_is_told_besides_is_a_cell_too_long_or_too_short_at_most() -> None:
    points = np.random.default_rng(1).uniform(0, 1000, (300, 2)) @ [1, 1j]
    lengths = lengths_of(points)
    k, m = lengths.between(400, 400.5)
    apart = np.abs(points[k] - points[m])
    assert len(apart) > 0
    assert apart.min() >= 400 - 2 * lengths.cell
    assert apart.max() <= 400.5 + 2 * lengths.cell


def test_of_one_point_and_of_coincident_points_there_is_nothing_to_be_wrong_about() -> None:
    assert lengths_of(np.array([3 + 4j])).between(0, 10).shape == (2, 0)
    assert lengths_of(np.array([1j, 1j])).between(0, 0).shape == (2, 1)
    assert lengths_of(np.array([1j, 1j])).between(5, 6).shape == (2, 0)


@pytest.mark.parametrize(
    ("holes", "within_mm"), [(3, 0.5), (12, 0.5), (40, 2.0), (150, 1.0), (150, 2.5), (150, 0.0)]
)
def test_pairs_as_long_as_each_other_are_counted_never_too_few_and_hardly_too_many(
    holes: int, within_mm: float
) -> None:
    draw = np.random.default_rng(holes)
    one, two = (draw.uniform(0, 500, (holes, 2)) @ [1, 1j] for _ in range(2))
    first, second = (np.array(list(_apart(points).values())) for points in (one, two))
    exact = sum(int((np.abs(second - mm) <= within_mm).sum()) for mm in first)
    assert exact <= alike(one, two, within_mm) <= 1.05 * exact
