"""
A property holds for many cases: 500 in the suite, 10,000 on the bench, each named by its seed.

A *property* is a function of a seed. It raises AssertionError where it does not hold, and may return a word for what
the case came to ("refused": a sound plate that was none of a GO), so that such words can be counted and bounded.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from fractions import Fraction

import pytest

SUITE, BENCH, CHUNK = 500, 10_000, 100


def many_cases(suite=SUITE, bench=BENCH):
    """The argument `seeds` of a test: chunks of 100 in the suite, all at once on the bench."""
    chunks = [range(first, min(first + CHUNK, suite)) for first in range(0, suite, CHUNK)]
    params = [pytest.param(some, id=f"{some[0]}-{some[-1]}") for some in chunks]
    return pytest.mark.parametrize(
        "seeds", [*params, pytest.param(range(bench), id="many", marks=pytest.mark.bench)]
    )


def hold(holds, seeds, **at_most):
    """The property holds for every seed, and of the words so large a share at most came out."""
    wrong, words, began = {}, Counter(), time.process_time()
    for seed in seeds:
        try:
            words[holds(seed)] += 1
        except AssertionError as fault:
            wrong[seed] = str(fault).splitlines()[:3]
    told = {word: count for word, count in words.items() if word}
    if len(seeds) > SUITE:
        took = time.process_time() - began
        sys.stdout.write(
            f"\n{holds.__name__}: {len(seeds)} cases, {len(wrong)} wrong, {told}, {took:.0f} s of processor\n"
        )
    assert not wrong, f"{len(wrong)} of {len(seeds)} cases of {holds.__name__}: {wrong}"
    for word, share in at_most.items():
        assert words[word] <= Fraction(share) * len(seeds), f"{words[word]} of {len(seeds)} are {word}"
