"""How long the critical path takes of a job of 2,000 parts."""

from __future__ import annotations

import random
import sys
from time import perf_counter

import pytest

from ledger.schedule.calendar import WorkingDays
from ledger.schedule.network import Activity, Link, critical_path

pytestmark = pytest.mark.bench


def test_two_thousand_parts_and_six_thousand_links_take_under_a_second():
    chosen, weeks = random.Random(1), [WorkingDays(range(n)) for n in (4, 5, 6)]
    rows = [Activity(f"P{k}", chosen.randint(0, 30), chosen.choice(weeks)) for k in range(2000)]
    links = [Link(f"P{a}", f"P{b}") for a, b in (sorted(chosen.sample(range(2000), 2)) for _ in range(6000))]
    began = perf_counter()
    times = critical_path(rows, links, start=739_000)
    took = perf_counter() - began
    sys.stdout.write(f"2,000 activities, 6,000 links: {took:.3f} s\n")
    assert len(times) == 2000
    assert took < 1
