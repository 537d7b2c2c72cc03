"""The critical path against published networks, link types, calendars, and networkx."""

from __future__ import annotations

import csv
import json
import math
import random
from datetime import date
from pathlib import Path

import networkx as nx
import pytest
from scipy import stats

from ledger.domain.errors import BadInput, UnknownName
from ledger.schedule.calendar import WorkingDays, read_days, read_weekdays, weekdays_words
from ledger.schedule.network import Activity, Link, critical, critical_path

ROWS = Path(__file__).parent / "published_rows.csv"
MILWAUKEE = {
    "A": (2, ""), "B": (3, ""), "C": (2, "A"), "D": (4, "B"), "E": (4, "C"), "F": (3, "C"), "G": (5, "DE"),
    "H": (2, "FG"),
}  # fmt: skip
STEVENSON = {
    "A": (5, 6, 7, ""), "B": (8, 8, 11, ""), "C": (6, 8, 11, "A"), "D": (9, 12, 15, ""), "E": (5, 6, 9, "C"),
    "F": (5, 6, 7, "D"), "G": (2, 3, 7, "F"), "H": (4, 4, 5, "B"), "I": (5, 7, 8, "H"),
}  # fmt: skip
RELIABLE = {
    "A": (1, 2, 3, ""), "B": (2, 3.5, 8, "A"), "C": (6, 9, 18, "B"), "D": (4, 5.5, 10, "C"), "E": (1, 4.5, 5, "C"),
    "F": (4, 4, 10, "E"), "G": (5, 6.5, 11, "D"), "H": (5, 8, 17, "EG"), "I": (3, 7.5, 9, "C"), "J": (3, 9, 9, "FI"),
    "K": (4, 4, 4, "J"), "L": (1, 5.5, 7, "J"), "M": (1, 2, 3, "H"), "N": (5, 5.5, 9, "KL"),
}  # fmt: skip


def expected(name):
    with ROWS.open(encoding="utf-8", newline="") as lines:
        return json.loads(next(row["expected"] for row in csv.DictReader(lines) if row["id"] == name))


def network(rows):
    """Activities and links of rows (duration, names before)."""
    links = [Link(before, name) for name, (_, after) in rows.items() for before in after]
    return [Activity(name, duration) for name, (duration, _) in rows.items()], links


def mean(low, likely, high):
    return (low + 4 * likely + high) / 6


def test_early_and_late_times_of_the_milwaukee_network():
    row = expected("CP-MILWAUKEE")
    times = critical_path(*network(MILWAUKEE))
    for name, (es, ef, ls, lf, slack) in ((n, row[n]) for n in MILWAUKEE):
        t = times[name]
        assert [t.early_start, t.early_finish, t.late_start, t.late_finish, t.slack] == [
            es,
            ef,
            ls,
            lf,
            slack,
        ]
    assert "".join(critical(times)) == row["critical"]
    assert max(t.early_finish for t in times.values()) == row["length"]


@pytest.mark.parametrize(
    ("kind", "first", "second", "lag", "told"),
    [
        ("SS", 5, 3, 2, "SS+2"),
        ("FF", 5, 3, 1, "FF+1"),
        ("SF", 5, 3, 4, "SF+4"),
        ("FS", 3, 2, 2, "FS+2"),
        ("FS", 3, 2, -1, "FS-1"),
        ("SS", 1, 2, -5, "SS-5"),
    ],
)
def test_every_kind_of_link_with_its_lag(kind, first, second, lag, told):
    times = critical_path([Activity("A", first), Activity("B", second)], [Link("A", "B", kind, lag)])
    assert [times["B"].early_start, times["B"].early_finish] == expected("CP-LINKS")[told]


def test_three_paths_with_three_estimates_each():
    row = expected("CP-PERT-3PATHS")
    times = critical_path(*network({n: (mean(*r[:3]), r[3]) for n, r in STEVENSON.items()}))
    assert "".join(critical(times)) == row["critical"]
    odds = 1.0
    for path in ("ACE", "DFG", "BHI"):
        length, spread = row[path]
        s = math.sqrt(sum(((STEVENSON[n][2] - STEVENSON[n][0]) / 6) ** 2 for n in path))
        assert times[path[-1]].early_finish == pytest.approx(length, abs=0.005)
        assert s == pytest.approx(spread, abs=0.005)
        odds *= stats.norm.cdf(24, length, s)
    assert odds == pytest.approx(row["P24"], abs=0.001)


def test_reliable_construction_takes_forty_four_weeks():
    row = expected("CP-RELIABLE")
    times = critical_path(*network({n: (mean(*r[:3]), r[3]) for n, r in RELIABLE.items()}))
    path = critical(times)
    variance = sum(((RELIABLE[n][2] - RELIABLE[n][0]) / 6) ** 2 for n in path)
    assert "".join(path) == row["critical"]
    assert max(t.early_finish for t in times.values()) == pytest.approx(row["length"])
    assert variance == pytest.approx(row["variance"])
    assert stats.norm.cdf(47, row["length"], 3) == pytest.approx(row["P47"], abs=5e-5)


def test_working_days_finish_on_the_last_of_them():
    row, week = expected("CP-CALENDAR"), WorkingDays()

    def last(start, days):
        return date.fromordinal(week.forward(date.fromisoformat(start).toordinal(), days)[1] - 1).isoformat()

    assert last("2024-01-01", 15) == row["15d"]
    assert last("2021-01-01", 3) == row["3d"]
    assert date.fromordinal(week.forward(date(2021, 1, 2).toordinal(), 1)[0]).isoformat() == row["sat"]


def drawn_network(seed):
    chosen = random.Random(seed)
    names = [f"N{k}" for k in range(chosen.randint(2, 40))]
    rows = [Activity(n, chosen.randint(0, 9)) for n in names]
    pairs = {tuple(sorted(chosen.sample(range(len(names)), 2))) for _ in range(chosen.randint(1, 80))}
    links = [Link(names[a], names[b]) for a, b in pairs]
    chosen.shuffle(rows)
    return rows, links


@pytest.mark.parametrize("seed", range(60))
def test_length_and_critical_path_are_those_of_networkx(seed):
    rows, links = drawn_network(seed)
    times = critical_path(rows, links)
    graph = nx.DiGraph()
    for one in rows:
        graph.add_edge(("start", one.name), ("finish", one.name), weight=one.duration)
        graph.add_edge("begin", ("start", one.name), weight=0)
        graph.add_edge(("finish", one.name), "end", weight=0)
    for link in links:
        graph.add_edge(("finish", link.before), ("start", link.after), weight=0)
    length = nx.dag_longest_path_length(graph)
    assert max(t.early_finish for t in times.values()) == length
    longest = dict.fromkeys(graph, 0)
    for node in nx.topological_sort(graph):
        for _, to, data in graph.out_edges(node, data=True):
            longest[to] = max(longest[to], longest[node] + data["weight"])
    tail = dict.fromkeys(graph, 0)
    for node in reversed(list(nx.topological_sort(graph))):
        for _, to, data in graph.out_edges(node, data=True):
            tail[node] = max(tail[node], tail[to] + data["weight"])
    for one in rows:
        t = times[one.name]
        assert t.early_start == longest["start", one.name]
        assert t.late_finish == length - tail["finish", one.name]
        assert t.slack == length - tail["start", one.name] - longest["start", one.name] >= 0


def stepped(week, at, length, *, back=False):
    """Working days counted one by one."""
    while length:
        day = date.fromordinal(at - 1 if back else at)
        at += -1 if back else 1
        length -= week.works(day)
    return at


@pytest.mark.parametrize("seed", range(40))
def test_working_days_are_those_counted_one_by_one(seed):
    chosen = random.Random(seed)
    start = date(2026, 1, 1).toordinal() + chosen.randint(0, 4000)
    off = {date.fromordinal(start + chosen.randint(-900, 900)) for _ in range(60)}
    week = WorkingDays(chosen.sample(range(7), chosen.randint(1, 7)), off)
    for _ in range(10):
        at, length = start + chosen.randint(-400, 400), chosen.randint(1, 90)
        first, finish = week.forward(at, length)
        assert week.works(date.fromordinal(first))
        assert finish == stepped(week, at, length)
        assert week.between(first, finish) == week.between(at, finish) == length
        assert week.backward(at, length)[0] == stepped(week, at, length, back=True)


def test_late_times_stay_within_a_day_that_is_given_and_slack_counts_working_days():
    week = WorkingDays(days_off=[date(2027, 1, 6)])
    monday, friday = date(2027, 1, 4).toordinal(), date(2027, 1, 15).toordinal() + 1
    rows = [Activity("cut", 4, week), Activity("fit", 1, week)]
    times = critical_path(rows, [Link("cut", "fit")], start=monday, finish=friday)
    assert date.fromordinal(int(times["cut"].early_finish) - 1) == date(2027, 1, 8)
    assert date.fromordinal(int(times["fit"].late_start)) == date(2027, 1, 15)
    assert times["cut"].slack == times["fit"].slack == 4
    late = critical_path(rows, [Link("cut", "fit")], start=monday, finish=date(2027, 1, 7).toordinal() + 1)
    assert late["cut"].slack == -2


def test_a_ring_is_told_by_its_names():
    rows = [Activity(n, 1) for n in "ABCD"]
    with pytest.raises(BadInput, match=r"ring: .* waits on "):
        critical_path(rows, [Link("A", "B"), Link("B", "C"), Link("C", "B"), Link("C", "D")])


@pytest.mark.parametrize(
    ("rows", "links", "fault"),
    [
        ([Activity("A", -1)], [], BadInput),
        ([Activity("A", math.nan)], [], BadInput),
        ([Activity("A", 1), Activity("A", 2)], [], BadInput),
        ([Activity("A", 1)], [Link("A", "B")], UnknownName),
    ],
)
def test_what_is_no_network_is_refused(rows, links, fault):
    with pytest.raises(fault):
        critical_path(rows, links)


def test_a_calendar_that_never_works_is_refused():
    with pytest.raises(BadInput, match="without working days"):
        WorkingDays(())
    with pytest.raises(BadInput, match="no working day"):
        read_weekdays(" ")


def test_days_of_the_week_and_days_off_read_as_they_are_told():
    for text, days in (
        ("Mon..Fri", (0, 1, 2, 3, 4)),
        ("Tue Thu", (1, 3)),
        ("Sat..Mon", (0, 5, 6)),
        ("monday", (0,)),
    ):
        assert read_weekdays(text) == days
        assert read_weekdays(weekdays_words(days)) == days
    assert read_days("2026-12-30..2027-01-02, 2027-05-01") == (
        "2026-12-30", "2026-12-31", "2027-01-01", "2027-01-02", "2027-05-01",
    )  # fmt: skip
    for wrong in ("2027-02-30", "2027-01-02..2027-01-01", "2026-01-01..2028-01-01"):
        with pytest.raises(BadInput):
            read_days(wrong)
    with pytest.raises(UnknownName):
        read_weekdays("Mxx")
