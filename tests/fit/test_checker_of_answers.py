"""The checker takes answers as they are and refuses every one that was tampered with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Fit, PatternCase, Ply
from ledger.fit.checker import checked, refused
from ledger.fit.guide import Slide, Turn
from ledger.fit.pattern import fit

PLACES = {
    "free": None,
    "stated": Pose(30.0, 4.0, -3.0),
    "sliding": Slide(Pose(30.0, 0.0, -3.0), (1.0, 0.0)),
    "turning": Turn((0.0, 0.0), (4.0, -3.0)),
}


def _case(place, *, mixed=False, slotted=False, seed=1):
    rng = np.random.default_rng(seed)
    points = np.array([[0, 0], [140, 10], [150, 90], [20, 80], [60, 30], [100, 70]]) + rng.uniform(
        -4, 4, (6, 2)
    )
    there = np.array([Pose(30.0, 4.0, -3.0).place(tuple(p)) for p in points]) + rng.uniform(-0.2, 0.2, (6, 2))

    def holes(where, diameter, first=1):
        return tuple(Hole(f"H{n}", (tuple(p),), diameter) for n, p in enumerate(where.tolist(), first))

    a, b = holes(points, 13.5), holes(there, 13.5)
    if slotted:
        x, y = a[0].centre
        a = (Hole("H1", ((x - 4, y), (x + 4, y)), 13.5), *a[1:])
    if not mixed:
        return PatternCase(Ply(a, declared=True), Ply(b, declared=True), 12, 12.2, position=place)
    pins = Fastening(
        Ply(holes(points[4:], 7.0, 5), declared=True),
        Ply(holes(there[4:], 6.0, 5), declared=True),
        6,
        6,
        "dowel",
    )
    bolts = [Ply(x[:4], declared=True, position_mm=0.2) for x in (a, b)]
    return PatternCase(*bolts, 12, 12, position=place, also=(pins,))


@pytest.fixture(params=PLACES)
def place(request):
    return PLACES[request.param]


@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize("slotted", [False, True])
def test_an_answer_as_it_is_holds(place, mixed: bool, slotted: bool) -> None:
    case = _case(place, mixed=mixed, slotted=slotted)
    found = fit(case)
    assert (found.verdict, found.proven) == ("GO", True)
    assert refused(case, found) is None


def _swapped(found):
    one, two, *rest = found.pairs
    return replace(found, pairs=(replace(one, b=two.b), replace(two, b=one.b), *rest))


def _twice(found):
    one, two, *rest = found.pairs
    return replace(found, pairs=(one, replace(two, b=one.b), *rest))


def _moved(found, **by):
    pose = found.pose
    return replace(found, pose=replace(pose, **{k: getattr(pose, k) + v for k, v in by.items()}))


TAMPERED = {
    "a pair swapped": _swapped,
    "a hole used twice": _twice,
    "a pair left out": lambda f: replace(f, pairs=f.pairs[1:]),
    "shifted across": lambda f: _moved(f, y_mm=1e-4),
    "shifted along": lambda f: _moved(f, x_mm=1e-4),
    "turned": lambda f: _moved(f, angle_deg=1e-4),
    "turned over": lambda f: replace(f, pose=replace(f.pose, turned_over=True)),
    "a larger margin": lambda f: replace(f, margin_mm=f.margin_mm + 1e-5),
    "a smaller margin": lambda f: replace(f, margin_mm=f.margin_mm - 1e-5),
    "a better worst case": lambda f: replace(f, worst_case_margin_mm=f.worst_case_margin_mm + 1e-5),
    "a margin that is no number": lambda f: replace(f, margin_mm=float("nan")),
    "another offset": lambda f: replace(f, pairs=(replace(f.pairs[0], offset_mm=0.0), *f.pairs[1:])),
    "more allowed": lambda f: replace(f, pairs=(replace(f.pairs[0], allowed_mm=9.0), *f.pairs[1:])),
    "a hole of no drawing": lambda f: replace(f, pairs=(replace(f.pairs[0], a="H99"), *f.pairs[1:])),
    "a hole left over unsaid": lambda f: replace(f, pairs=f.pairs[1:], unmatched_a=(f.pairs[0].a,)),
    "no pose": lambda f: replace(f, pose=None),
}


@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize("tampered", TAMPERED)
def test_an_answer_that_was_tampered_with_is_not_proven(place, mixed: bool, tampered: str) -> None:
    case = _case(place, mixed=mixed)
    wrong = TAMPERED[tampered](fit(case))
    assert refused(case, wrong) is not None
    told = checked(case, wrong)
    assert (told.proven, told.verdict) == (False, wrong.verdict)
    assert "did not pass its check" in told.notes[-1]


def test_certificates_of_another_pairing_prove_nothing() -> None:
    case, other = _case(None), _case(None, seed=2)
    found, strange = fit(case), fit(other)
    assert strange.proof is not None
    assert found.proof is not None
    assert refused(case, replace(found, proof=strange.proof)) is not None
    assert refused(case, replace(found, proof=None)) is not None
    one, two, *rest = found.proof.pairs
    crossed = replace(found.proof, pairs=((one[0], two[1]), (two[0], one[1]), *rest))
    assert refused(case, replace(found, proof=crossed)) is not None
    assert (
        refused(case, replace(found, proof=replace(found.proof, pairs=found.proof.pairs[::-1]))) is not None
    )


def test_the_worst_case_of_mixed_fasteners_needs_its_own_pose_and_certificates() -> None:
    case = _case(None, mixed=True)
    found = fit(case)
    assert found.proof is not None
    assert found.proof.worst is not None
    certificates, pose = found.proof.worst
    for worst in (None, ((), pose), (certificates, replace(pose, x_mm=pose.x_mm + 0.1))):
        assert refused(case, replace(found, proof=replace(found.proof, worst=worst))) is not None


@pytest.mark.parametrize(("declared", "away"), [(True, 3.0), (False, 3.0)])
def test_a_wrong_hole_cannot_be_dropped(declared: bool, away: float, place) -> None:
    case = _case(place)
    b = case.b.holes
    x, y = b[5].centre
    case = replace(
        case, a=replace(case.a, declared=declared),
        b=Ply((*b[:5], replace(b[5], core=((x + away, y),))), declared=declared),
    )  # fmt: skip
    found = fit(case)
    assert (found.verdict, [w.b for w in found.wrong]) == ("NO-GO", ["H6"])
    hidden = Fit(
        "GO", min(p.margin_mm for p in found.pairs), 0.0, found.pose, found.pairs, unmatched_a=("H6",),
        unmatched_b=("H6",), proven=True, proof=found.proof,
    )  # fmt: skip
    assert refused(case, hidden) is not None
    assert refused(case, replace(hidden, unmatched_a=(), unmatched_b=())) is not None
    assert not checked(case, hidden).proven
    if found.proven:
        assert refused(case, replace(found, wrong=())) is not None


def test_a_place_on_a_guide_with_less_margin_than_another_is_refused() -> None:
    case = _case(PLACES["sliding"])
    here = fit(case)
    assert here.pose is not None
    assert here.margin_mm is not None
    worse = fit(replace(case, position=replace(here.pose, x_mm=here.pose.x_mm + 0.01)))
    assert worse.verdict == "GO"
    assert refused(case, replace(worse, proven=True)) == "another pose may have more margin"
