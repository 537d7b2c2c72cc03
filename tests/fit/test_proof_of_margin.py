"""A proof holds for the true margin, fails for any lower one, and for certificates that were tampered with."""

from __future__ import annotations

import cmath
from dataclasses import replace

import numpy as np
import pytest

from ledger.fit.layout import lay_out
from ledger.fit.minimax import Certificate, best_pose, margin_at, waves
from ledger.fit.proof import proves


class Solved:
    def __init__(self, seed, *, slots=False, turned_over=False, noise=2.0, n=6):
        random = np.random.default_rng(seed)
        a = random.uniform(-150, 150, n) + 1j * random.uniform(-150, 150, n)
        b = (a.conj() if turned_over else a) * cmath.rect(1, 1.0) + random.normal(size=n) * noise + 500
        halves = np.where(random.random(n) < 0.5, 4 * np.exp(1j * random.uniform(0, 6, n)), 0) * slots
        self.a, self.b = (
            [
                (((z - h).real, (z - h).imag), ((z + h).real, (z + h).imag)) if h else ((z.real, z.imag),)
                for z, h in zip(points, halves, strict=True)
            ]
            for points in (a, b)
        )
        self.c = random.choice([0.5, 1.5], n)
        self.turned_over = turned_over
        self.layout = lay_out(self.a, self.b, self.c, turned_over=turned_over)
        self.best = best_pose(self.layout, 1.0)
        self.margin = self.best.margin * self.layout.reach_mm
        self.tolerance = self.layout.tolerance * self.layout.reach_mm

    def proves(self, certificates=None, *, margin=None):
        return proves(
            self.a,
            self.b,
            list(self.c),
            self.best.certificates if certificates is None else certificates,
            turned_over=self.turned_over,
            margin_mm=self.margin if margin is None else margin,
            tolerance_mm=self.tolerance,
        )


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(
    ("slots", "turned_over"), [(False, False), (False, True), (True, False), (True, True)]
)
def test_the_solvers_certificates_prove_its_margin_and_none_below(seed, slots, turned_over):
    solved = Solved(seed, slots=slots, turned_over=turned_over)
    assert solved.proves()
    assert not solved.proves(margin=solved.margin - 3 * solved.tolerance)
    assert not solved.proves(margin=solved.margin - 0.1)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("slots", [False, True])
def test_every_certificate_is_a_bound_at_every_sampled_pose(seed, slots):
    solved = Solved(seed, slots=slots)
    random = np.random.default_rng(seed)
    for certificate in solved.best.certificates:
        family = waves(solved.layout, certificate)
        for angle in (*random.uniform(-3.2, 3.2, 20), solved.best.angle):
            bound = max(const - (z * cmath.rect(1, angle)).real for const, z in family)
            for shift in (solved.best.shift, complex(*random.normal(size=2)) * 0.01):
                assert margin_at(solved.layout, angle, shift) <= bound + 1e-13


@pytest.mark.parametrize("seed", range(5))
def test_each_way_of_tampering_with_a_certificate_voids_the_proof(seed):
    solved = Solved(seed)
    sound = solved.best.certificates
    last = sound[-1]
    assert len(last.pairs) > 1
    first, *rest = last.weights
    for bad in (
        replace(last, weights=(-first, *rest)),
        replace(last, weights=tuple(2 * w for w in last.weights)),
        replace(last, weights=tuple(w / 2 for w in last.weights)),
        replace(last, rays=tuple(2 * u for u in last.rays)),
        replace(last, rays=(last.rays[0] * 1j, *last.rays[1:])),
        replace(last, rays=(complex("nan"), *last.rays[1:])),
        replace(last, weights=(float("nan"), *rest)),
        replace(last, pairs=last.pairs[:-1]),
    ):
        assert not solved.proves((*sound, bad))


def test_a_balanced_certificate_with_a_negative_weight_is_unsound():
    solved = Solved(0)
    balanced = Certificate((0, 1), (2.0, -1.0), (0.5 + 0j, 1 + 0j))
    assert not solved.proves((*solved.best.certificates, balanced))
    assert solved.proves(
        (*solved.best.certificates, replace(balanced, weights=(0.5, 0.5), rays=(1 + 0j, -1 + 0j)))
    )


def test_no_certificate_proves_nothing():
    assert not Solved(0).proves(())


def test_leaving_out_the_certificates_near_the_answer_voids_the_proof():
    solved = Solved(2, slots=True)
    assert len(solved.best.certificates) > 3
    assert not solved.proves(solved.best.certificates[:3])
    solved = Solved(1)
    assert not solved.proves((Certificate((0, 1), (0.5, 0.5), (1 + 0j, -1 + 0j)),))


def test_the_same_certificate_twice_proves_no_more_than_once():
    solved = Solved(2, slots=True)
    one = solved.best.certificates[2]
    assert not solved.proves((one, one))


def test_one_tight_pair_is_a_whole_proof_for_equal_patterns():
    solved = Solved(3, noise=0.0)
    tightest = int(np.argmin(solved.c))
    assert solved.proves((Certificate((tightest,), (1.0,), (0j,)),))


def test_a_margin_that_is_no_number_is_not_proven():
    assert not Solved(0).proves(margin=float("nan"))
    assert not Solved(0).proves(margin=float("inf"))
