"""Connections between the same parts, and parts on the same bolts, have the verdict of one fit with all holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from case_builders import case_of

from ledger.checks import all_checks
from ledger.checks._case import Joined
from ledger.domain.pose import Pose

CHECK = next(c for c in all_checks() if c.name == "common_position")
TOLD = {
    "fits_together": "fits", "tight_together": "tight", "odds_together": "tight", "not_together": "apart"
}  # fmt: skip
NEAR = 0.01  # of the odds required: lots drawn in another order may fall on either side


def drawn(points, diameter=11.0):
    return [f"{float(x)!r} {float(y)!r} {diameter}" for x, y in points]


def split_plates(seed):
    """TURN and BASE with 4 to 9 holes each in 2 or 3 groups, each group off as a whole and each hole a little."""
    random = np.random.default_rng(seed)
    names = ["g1", "g2", "g3"][: 2 + seed % 2]
    counts = [int(random.integers(2, 4)) for _ in names]
    pose, off = Pose(*random.uniform(-50, 50, 3)), float(random.choice([0.1, 0.5, 1.0]))
    groups, first, second, label = {}, [], [], 0
    for name, count in zip(names, counts, strict=True):
        base = random.uniform(-150, 150, (count, 2))
        whole = random.normal(0, off, 2)
        first += [pose.place(tuple(p)) for p in base + whole]
        second += list(base + random.normal(0, 0.1, base.shape))
        groups[name] = [f"H{label + k}" for k in range(1, count + 1)]
        label += count
    return first, second, groups


def verdict_of_one(fit):
    if fit.verdict != "GO":
        return "apart"
    return "fits" if fit.worst_case_margin_mm >= 0 else "tight"


def plates(first, second, groups, group):
    return {
        "fastener": "M10",
        "a": {"holes": drawn(first), "groups": groups, "group": group},
        "b": {"holes": drawn(second), "groups": groups, "group": group},
    }


def agrees(seed):
    first, second, groups = split_plates(seed)
    own, *others = groups
    more = []
    for place, name in enumerate(others):
        plies = [{"number": "TURN", "group": name}, {"number": "BASE", "group": name}]
        more.append({"fastener": "M10", "plies": plies[:: -1 if place else 1]})
    split = case_of({**plates(first, second, groups, own), "more": more})
    cases = (split, *split.joined().connections)
    if any(c.best_fit.verdict != "GO" for c in cases):
        return
    every = {"all": [x for labels in groups.values() for x in labels]}
    whole = case_of(plates(first, second, every, "all"))
    one, ruling = whole.best_fit, whole.ruling
    near = ruling.odds is not None and abs(ruling.odds.low - 0.99) < NEAR
    for case in cases:
        outcome = CHECK.run(case if case is split else _seen_from(case, cases), "subject")
        assert outcome.state == "ran", outcome.reason
        assert [TOLD[f.code] for f in outcome.findings] == [verdict_of_one(one)], seed
        stopped = any(f.severity == "stop" for f in outcome.findings)
        assert near or stopped is (ruling.verdict != "GO"), seed


def _seen_from(case, cases):
    others = tuple(c.shown((), ()) for c in cases if c.connection.name != case.connection.name)
    return replace(case, joined=lambda: Joined(others))


@pytest.mark.parametrize("first", range(0, 60, 10))
def test_holes_split_over_connections_have_the_verdict_of_one_connection_with_all_of_them(first):
    for seed in range(first, first + 10):
        agrees(seed)


@pytest.mark.bench
def test_many_plates_with_holes_split_over_connections():
    for seed in range(1000, 11_000):
        agrees(seed)


@pytest.mark.parametrize("seed", range(8))
def test_plies_entered_two_by_two_on_the_same_holes_have_the_verdict_of_the_stack(seed):
    random = np.random.default_rng(seed)
    base = random.uniform(-120, 120, (4, 2))
    off = (0.1, 0.5, 0.8)[seed % 3]
    tables = []
    for _ in range(3):
        pose = Pose(*random.uniform(-50, 50, 3))
        points = [pose.place(tuple(p)) for p in base + random.normal(0, off, base.shape)]
        tables.append({"holes": drawn(points, 13.5), "groups": {"m": ["H1", "H2", "H3", "H4"]}, "group": "m"})
    a, b, c = tables
    plies = [{"number": "BASE", "group": "m"}, {"number": "SHIM", **c}]
    pairs = case_of({"a": a, "b": b, "more": [{"plies": plies}]})
    stack = case_of({"a": a, "b": b, "c": c}).best_stack
    outcome = CHECK.run(pairs, "subject")
    if stack.margin_mm is None:
        assert outcome.state in ("does not apply", "ran")
        assert "fits_together" not in {f.code for f in outcome.findings}
    else:
        assert [TOLD[f.code] for f in outcome.findings] == [
            "apart" if stack.margin_mm < 0 else "fits" if stack.worst_case_margin_mm >= 0 else "tight"
        ]


def row(*ends):
    return {"holes": drawn(((0, 0), *ends), 13.5), "groups": {"m": ["H1", "H2"]}, "group": "m"}


def as_drawn(turn, cap, base=(100, 0), **more):
    """TURN and CAP on the same two holes of BASE, all as drawn."""
    stated = {"position": "as drawn"}
    plies = [{"number": "CAP", **row(cap)}, {"number": "BASE", "group": "m"}]
    case = {
        "connection": stated,
        "a": row(turn),
        "b": row(base),
        "more": [{"connection": stated, "plies": plies}],
    }
    return case_of(case | more)


@pytest.mark.parametrize(
    ("turn", "cap", "says"),
    [
        ((100, 0), (100, 0.4), "margin 1.100 mm nominal"),
        (
            (101.2, 0),
            (98.8, 0),
            "no bolt goes through H2 of BASE, H2 of CAP and H2 of TURN at the positions entered: short by 0.900 mm",
        ),
        ((100.6, 0), (99.5, 0), "every position out, worst at H2 of BASE, H2 of CAP and H2 of TURN"),
    ],
)
def test_a_column_of_holes_at_stated_positions_is_told_with_its_margin_and_its_plies(turn, cap, says):
    (finding,) = CHECK.run(as_drawn(turn, cap), "subject").findings
    assert says in finding.message
