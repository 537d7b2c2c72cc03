"""Connections between the same parts, and parts on the same bolts, have the verdict of one fit with all holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from case_builders import arguments_of, case_of, told_by
from many_cases import hold, many_cases

from ledger.cases.surroundings import JoinedConnection
from ledger.checks import all_checks
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
    names = ["g1", "g2", "g3"][: 2 + (seed % 4 == 3)]
    counts = [int(random.integers(2, 4)) for _ in names]
    pose, off = Pose(*random.uniform(-50, 50, 3)), float(random.choice([0.1, 0.3, 0.5, 1.0]))
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


def split(seed, odds):
    """Connections that split the holes of two parts, and the one connection that has all of them."""
    first, second, groups = split_plates(seed)
    own, *others = groups
    more = []
    for place, name in enumerate(others):
        plies = [{"number": "TURN", "group": name}, {"number": "BASE", "group": name}]
        more.append({"fastener": "M10", "plies": plies[:: -1 if place else 1]})
    seen = arguments_of({**plates(first, second, groups, own), "more": more, "odds": odds})[JoinedConnection]
    every = {"all": [x for labels in groups.values() for x in labels]}
    cases = tuple(replace(c, odds=odds) for c in (seen.case, *seen.joined))
    return cases, case_of({**plates(first, second, every, "all"), "odds": odds})


def told_of(cases, seen):
    """What the check tells where it is asked from one of the connections: the verdict, and whether it stops."""
    case = cases[seen]
    others = tuple(c for c in cases if c.connection.name != case.connection.name)
    outcome = CHECK.run(JoinedConnection(case, others), "subject")
    assert outcome.state in ("ran", "does not apply"), outcome.reason
    return [TOLD[f.code] for f in outcome.findings], any(f.severity == "stop" for f in outcome.findings)


def agrees(seed):
    """Asked from one connection, the next one with the next seed; by the worst case alone."""
    cases, whole = split(seed, "worst case")
    told, stopped = told_of(cases, seed % len(cases))
    if not told:
        assert any(c.best_fit.verdict != "GO" for c in cases)
        return "one by itself"
    one = whole.best_fit
    assert told == [verdict_of_one(one)]
    assert stopped is (told != ["fits"])
    return told[0]


def agrees_in_odds(seed):
    cases, whole = split(seed, "99")
    told, stopped = told_of(cases, seed % len(cases))
    ruling = whole.ruling
    near = ruling.odds is not None and abs(ruling.odds.low - 0.99) < NEAR
    if told:
        assert told == [verdict_of_one(whole.best_fit)]
        assert near or stopped is (ruling.verdict != "GO")


def as_a_stack(seed):
    """Three plies entered two by two over the same holes; 4 bolts."""
    random = np.random.default_rng([seed, 3])
    base = random.uniform(-120, 120, (4, 2))
    off = (0.1, 0.5, 0.8)[seed % 3]
    tables = []
    for _ in range(3):
        pose = Pose(*random.uniform(-50, 50, 3))
        points = [pose.place(tuple(p)) for p in base + random.normal(0, off, base.shape)]
        tables.append({"holes": drawn(points, 13.5), "groups": {"m": ["H1", "H2", "H3", "H4"]}, "group": "m"})
    a, b, c = tables
    plies = [{"number": "BASE", "group": "m"}, {"number": "SHIM", **c}]
    pairs = {"a": a, "b": b, "more": [{"plies": plies}]}
    stack = case_of({"a": a, "b": b, "c": c}).best_stack
    outcome = told_by(CHECK, pairs)
    if stack.margin_mm is None:
        assert outcome.state in ("does not apply", "ran")
        assert "fits_together" not in {f.code for f in outcome.findings}
        return ""
    if outcome.state == "does not apply":  # two of the plies do not go together already
        assert "not all of them fit by themselves" in outcome.reason
        assert stack.margin_mm < 0
        return "apart by two"
    assert [TOLD[f.code] for f in outcome.findings] == [
        "apart" if stack.margin_mm < 0 else "fits" if stack.worst_case_margin_mm >= 0 else "tight"
    ]
    return ""


@many_cases()
def test_holes_split_over_connections_have_the_verdict_of_one_connection_with_all_of_them(seeds):
    hold(agrees, seeds)


@many_cases(30, 1_000)  # up to 20,000 lots each: 100 ms
def test_holes_split_over_connections_have_the_odds_of_one_connection_with_all_of_them(seeds):
    hold(agrees_in_odds, seeds)


@many_cases(20, 1_000)  # two searches for three plies each: 200 ms
def test_plies_entered_two_by_two_on_the_same_holes_have_the_verdict_of_the_stack(seeds):
    hold(as_a_stack, seeds)


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
    return case | more


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
    (finding,) = told_by(CHECK, as_drawn(turn, cap)).findings
    assert says in finding.message
