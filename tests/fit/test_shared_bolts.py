"""Parts on the same bolts at stated positions, held against a direct search for every bolt's axis."""

from __future__ import annotations

import numpy as np
import pytest

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.shared_bolts import Assembled, Connected, fit_shared
from ledger.fit.stack_case import StackFastening

PARTS = ("BASE", "CAP", "TURN", "ARM")
BOLT_MM = 12.0
NEAR_MM = 2e-5
THIRDS = 34


def direct(columns):
    """
    Twice the most that an axis leaves of the least room, for each column of (core, room) by part.

    What is left is concave over the plane, so thirds are cut off in x for every y, and in y; all columns at once.
    """
    most = max(map(len, columns))
    full = [[*c, *[(c[0][0], 1e3)] * (most - len(c))] for c in columns]
    first, last = (np.array([[complex(*core[end]) for core, _ in c] for c in full]).T for end in (0, -1))
    room, along = np.array([[room for _, room in c] for c in full]).T, last - first
    square = np.where(along == 0, 1.0, np.abs(along) ** 2)

    def left(x, y):
        gap = x + 1j * y - first
        t = np.clip((gap * along.conj()).real / square, 0, 1)
        return (room - np.abs(gap - t * along)).min(axis=0)

    def most_at(y):
        return highest(
            lambda x: left(x, y), np.minimum(first.real, last.real), np.maximum(first.real, last.real)
        )

    return 2 * highest(most_at, np.minimum(first.imag, last.imag), np.maximum(first.imag, last.imag))


def highest(of, low, high):
    """The greatest value of a concave function between the least and the greatest of each column."""
    low, high = low.min(axis=0), high.max(axis=0)
    for _ in range(THIRDS):
        one, two = low + (high - low) / 3, high - (high - low) / 3
        lower = of(one) < of(two)
        low, high = np.where(lower, one, low), np.where(lower, high, two)
    return of((low + high) / 2)


class Plates:
    """Some parts with the same bolts, laid anywhere, drawn a little off, and the connections between them."""

    def __init__(self, seed):
        random = np.random.default_rng(seed)
        self.parts = PARTS[: int(random.integers(3, 5))]
        self.held = bool(seed % 3 == 2)
        bolts = random.uniform(-80, 80, (int(random.integers(2, 5)), 2))
        off = float(random.choice([0.1, 0.3, 0.6]))
        self.poses = {
            n: Pose(*random.uniform(-90, 90, 3), bool(random.integers(2))) if n != "BASE" else Pose()
            for n in self.parts
        }
        self.plies = {}
        for n in self.parts:
            holes = []
            for k, at in enumerate(bolts + random.normal(0, off, bolts.shape), 1):
                long = random.normal(0, 2, 2) if seed % 2 and random.uniform() < 0.3 else np.zeros(2)
                ends = [self.poses[n].bring(tuple(at + s * long)) for s in (-1, 1)]
                core = tuple(ends) if long.any() else (ends[0],)
                holes.append(Hole(f"H{k}", core, float(random.choice([13.5, 14.0]))))
            self.plies[n] = Ply(
                tuple(holes), declared=True, position_mm=float(random.uniform(0, 0.3)), shrink_mm=0.1
            )
        self.count = len(bolts)

    def connected(self, first, second, hold="fixed", pose=None):
        """The first part on the second, where they lie."""
        plies = (self.plies[first], self.plies[second])
        joint = "tapped" if self.held else "through"
        labels = tuple((f"H{k}", f"H{k}") for k in range(1, self.count + 1))
        laid = pose or self.poses[second].back.after(self.poses[first])
        return Connected(
            (first, second),
            (StackFastening(plies, BOLT_MM, BOLT_MM, joint),),
            (Assembled((laid, Pose()), labels),),
            whole=True,
            hold=hold,
        )

    def columns(self, *, worst):
        """Of every bolt its cores and rooms; of one that BASE holds those of each part with BASE."""

        def core_and_room(n, k):
            ply = self.plies[n]
            hole = ply.holes[k]
            room = (hole.diameter_mm - BOLT_MM - worst * (ply.shrink_mm + ply.position_mm)) / 2
            return tuple(self.poses[n].place(p) for p in hole.core), room

        for k in range(self.count):
            column = [core_and_room(n, k) for n in self.parts]
            if not self.held:
                yield column
                continue
            held = (column[0][0], -worst * self.plies["BASE"].position_mm / 2)
            for core, room in column[1:]:
                both = (room + held[1]) / 2
                yield [(core, both), (held[0], both)]

    def direct(self, *, worst):
        """The margin of every column."""
        return direct(list(self.columns(worst=worst)))


@pytest.mark.parametrize("first", range(0, 150, 50))
def test_at_stated_positions_the_margins_are_those_of_a_direct_search(first):
    every = [Plates(seed) for seed in range(first, first + 50)]
    columns = [[list(p.columns(worst=worst)) for p in every] for worst in (False, True)]
    drawn, hard = (direct([c for of in each for c in of]) for each in columns)
    at, sound = 0, []
    for plates, own in zip(every, columns[0], strict=True):
        found = fit_shared(tuple(plates.connected(n, "BASE") for n in plates.parts[1:]))
        here = slice(at, at := at + len(own))
        assert found.margin_mm == pytest.approx(drawn[here].min(), abs=NEAR_MM)
        assert found.worst_case_margin_mm == pytest.approx(hard[here].min(), abs=NEAR_MM)
        assert found.none_passes is (found.margin_mm < 0)
        assert found.settled
        sound.append(found.margin_mm >= 0)
    assert 10 <= sum(sound) <= 40


def test_the_columns_that_are_short_are_named_the_worst_first():
    for seed in range(12):
        plates = Plates(seed)
        if plates.held:
            continue
        found = fit_shared(tuple(plates.connected(n, "BASE") for n in plates.parts[1:]))
        every = plates.direct(worst=found.margin_mm >= 0)
        short = {f"H{k}": m for k, m in enumerate(every, 1) if m < -NEAR_MM}
        told = {column.holes[0][1]: column.margin_mm for column in found.short if column.margin_mm < -NEAR_MM}
        assert told == pytest.approx(short, abs=NEAR_MM)
        assert list(told.values()) == sorted(told.values())
        assert all(
            column.holes == tuple((n, column.holes[0][1]) for n in sorted(plates.parts))
            for column in found.short
        )


@pytest.mark.parametrize("seed", range(0, 12, 2))
def test_connections_that_close_a_ring_change_nothing_where_they_agree_and_are_refused_where_not(seed):
    plates = Plates(seed)
    plates.held = False
    chain = (plates.connected("CAP", "BASE"), plates.connected("TURN", "CAP"))
    plates.parts = PARTS[:3]
    found = fit_shared(chain)
    closed = fit_shared((*chain, plates.connected("TURN", "BASE")))
    assert closed.margin_mm == pytest.approx(found.margin_mm, abs=1e-6)
    free = fit_shared((*chain, plates.connected("TURN", "BASE", "free")))
    assert free.margin_mm == pytest.approx(found.margin_mm, abs=1e-6)
    pose = plates.poses["TURN"]
    moved = Pose(pose.angle_deg, pose.x_mm + 0.5, pose.y_mm, pose.turned_over)
    with pytest.raises(BadInput, match=r"in two places, up to 0\.500 mm apart"):
        fit_shared((*chain, plates.connected("TURN", "BASE", pose=moved)))
    over = Pose(pose.angle_deg, pose.x_mm, pose.y_mm, not pose.turned_over)
    with pytest.raises(BadInput, match="both ways up"):
        fit_shared((*chain, plates.connected("TURN", "BASE", pose=over)))


@pytest.mark.parametrize("seed", range(0, 24, 2))
def test_with_one_part_free_a_pass_has_a_position_and_a_refusal_holds_with_all_of_them_free(seed):
    plates = Plates(seed)
    plates.held, plates.parts = False, PARTS[:3]
    fixed = fit_shared((plates.connected("CAP", "BASE"), plates.connected("TURN", "BASE")))
    every = fit_shared((plates.connected("CAP", "BASE", "free"), plates.connected("TURN", "BASE", "free")))
    mixed = fit_shared((plates.connected("CAP", "BASE"), plates.connected("TURN", "BASE", "free")))
    assert mixed.margin_mm == pytest.approx(fixed.margin_mm, abs=1e-6)
    assert not mixed.settled
    assert mixed.none_passes is (mixed.margin_mm < 0 and every.none_passes)
    assert every.margin_mm >= fixed.margin_mm - 1e-4
