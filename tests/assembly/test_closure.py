"""A ring of plates closes where one set of positions serves all fasteners, and is refused where none does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from many_cases import hold, many_cases
from other_solver import margin_by_slsqp
from rings_of_plates import drawn_of, ring

from ledger.assembly.checker import measured_mm, refutes
from ledger.assembly.closure import closure, shares
from ledger.assembly.poses import best_poses
from ledger.assembly.proof import refuted
from ledger.domain.shape import Hole

FAR_MM = 60.0


def a_ring_that_closes_is_not_refused(seed):
    """Every plate as drawn, holes out by a tenth, no group out: the frames themselves let every bolt in."""
    case = ring(seed, slots=seed % 4 == 0, joints=("through", "tapped"))
    found = closure(case)
    assert found.state == "closes"
    made = drawn_of(case)
    assert measured_mm(made.bolts, dict(found.poses), worst=False) >= found.margin_mm - 1e-6


def a_planted_misfit_is_found(seed):
    """A group that is out by more than all connections together take up."""
    case = ring(seed, slots=False, joints=("through", "tapped"), noise_mm=0.02)
    closes = closure(case)
    assert closes.state == "closes"
    moved = ring(seed, off_mm=FAR_MM, joints=("through", "tapped"), noise_mm=0.02)
    found = closure(moved)
    made = drawn_of(moved)
    known = best_poses(made.drawn, made.start)
    if known.margin_mm >= 0:
        return "turned so far that it closes"
    assert found.state == "does not close"
    assert found.closing.short_mm > 0
    return None


def the_margin_is_that_of_another_solver(seed):
    case = ring(seed, off_mm=(0.0, 8.0, 25.0)[seed % 3], joints=("through", "tapped"))
    made = drawn_of(case)
    ours = best_poses(made.drawn, made.start).margin_mm
    theirs = margin_by_slsqp(made.drawn, made.start)
    assert ours >= theirs - 1e-5
    if abs(ours - theirs) > 1e-4:
        return "the other stopped short"
    return None


@many_cases(suite=30, bench=1000)
def test_no_closing_ring_is_refused(seeds):
    hold(a_ring_that_closes_is_not_refused, seeds)


@many_cases(suite=10, bench=1000)
def test_a_planted_misfit_in_a_ring_whose_pairs_all_fit_is_found(seeds):
    hold(a_planted_misfit_is_found, seeds, **{"turned so far that it closes": "0.1"})


@many_cases(suite=8, bench=2000)
def test_the_margin_of_a_ring_is_that_of_sequential_quadratic_programming(seeds):
    hold(the_margin_is_that_of_another_solver, seeds, **{"the other stopped short": "0.2"})


@pytest.mark.parametrize("seed", range(3))
def test_the_move_that_is_told_closes_the_ring(seed):
    case = ring(seed, off_mm=40.0, noise_mm=0.05, plates=5, holes=3)
    found = closure(case)
    assert found.state == "does not close"
    move = found.closing.moves[0]
    member = next(m for m in case.members if m.name == move.member)
    side = member.connected.parts.index(move.part)
    plies = list(member.connected.fastenings[0].plies)
    x, y = move.move_mm
    plies[side] = replace(
        plies[side], holes=tuple(
            Hole(h.label, tuple((p[0] + x, p[1] + y) for p in h.core), h.diameter_mm) for h in plies[side].holes
        ),
    )  # fmt: skip
    fastening = replace(member.connected.fastenings[0], plies=tuple(plies))
    mended = replace(member, connected=replace(member.connected, fastenings=(fastening,)))
    after = closure(replace(case, members=tuple(mended if m is member else m for m in case.members)))
    assert after.state == ("closes" if found.closing.worst_case else "closes as drawn")


def test_only_parts_that_can_still_be_changed_are_told_to_move():
    case = ring(3, off_mm=40.0, plates=4, holes=3)
    movable = frozenset({"P1"})
    moves = closure(replace(case, movable=movable)).closing.moves
    assert moves
    assert {m.part for m in moves} == movable
    none = closure(replace(case, movable=frozenset()))
    assert none.state == "does not close"
    assert none.closing.moves == ()
    assert none.closing.short_mm > 0


def test_the_whole_leaves_no_connection_more_than_it_has_by_itself():
    case = ring(5, off_mm=3.0, plates=5, holes=4)
    alone = tuple(
        replace(m, margin_mm=margin, worst_case_margin_mm=margin)
        for m, margin in zip(case.members, _alone(case), strict=True)
    )
    case = replace(case, members=alone)
    told = shares(case, closure(case))
    assert [s.name for s in told] == [m.name for m in case.members]
    assert all(s.whole_mm <= s.alone_mm + 1e-6 for s in told)
    assert any(s.whole_mm < s.alone_mm - 1e-3 for s in told) or closure(case).margin_mm > 0


def _alone(case):
    made = drawn_of(case)
    for k in range(len(case.members)):
        own = [k in of for of in made.of]
        free = replace(made.drawn, room=np.where(own, made.drawn.room, 1e4), share=np.where(own, 1.0, 0.0))
        yield best_poses(free, made.start).margin_mm


@pytest.mark.parametrize("seed", range(6))
def test_a_certificate_that_was_tampered_with_is_refused(seed):
    made = drawn_of(ring(seed, off_mm=60.0, noise_mm=0.02, plates=4, holes=3))
    found = best_poses(made.drawn, made.start)
    if found.margin_mm >= 0:
        return
    proof, _ = refuted(made.drawn, found, 0.0)
    assert refutes(made.drawn, proof)
    (first, *rest) = proof.certificates
    pushed = first.vectors.copy()
    pushed[abs(pushed).argmax()] *= 1.01  # no longer in balance
    for vectors, weights in (
        (pushed, first.weights),
        (first.vectors, first.weights * 1.001),
        (first.vectors, -first.weights),
    ):
        forged = replace(proof, certificates=(replace(first, vectors=vectors, weights=weights), *rest))
        assert not refutes(made.drawn, forged)
    assert not refutes(made.drawn, replace(proof, limit_mm=found.margin_mm - 0.01))


def test_a_link_that_was_loosened_is_no_longer_refuted():
    made = drawn_of(ring(1, off_mm=60.0, noise_mm=0.02, plates=4, holes=3))
    found = best_poses(made.drawn, made.start)
    proof, _ = refuted(made.drawn, found, 0.0)
    assert refutes(made.drawn, proof)
    assert not refutes(made.drawn.with_room(made.drawn.room + 40.0), proof)


@pytest.mark.parametrize("seed", [167, 187, 751, 915])
def test_a_ring_is_refused_wherever_the_angles_of_its_plates_are_counted_from(seed):
    """Their boxes of angles have to be split, and reach beyond half a turn."""
    assert (
        closure(ring(seed, off_mm=FAR_MM, joints=("through", "tapped"), noise_mm=0.02)).state
        == "does not close"
    )


@pytest.mark.parametrize("seed", [9, 19, 33])
def test_a_ring_that_is_short_by_a_hair_is_refused_and_one_that_just_closes_is_not(seed):
    low, high = 0.0, 400.0
    while high - low > 0.02:
        middle = (low + high) / 2
        made = drawn_of(ring(seed, off_mm=middle, noise_mm=0.02, holes=3))
        low, high = (middle, high) if best_poses(made.drawn, made.start).margin_mm >= 0 else (low, middle)
    assert closure(ring(seed, off_mm=high, noise_mm=0.02, holes=3)).state == "does not close"
    assert closure(ring(seed, off_mm=low, noise_mm=0.02, holes=3)).state in ("closes", "closes as drawn")
