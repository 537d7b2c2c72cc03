"""
Every number of the tables is held by some assertion: one digit of one cell is changed, and a test must notice.

The tests that hold a table are run as plain functions with their own parameters, against the changed table in memory.
A digit is the last of the number as it is written, so the change is the smallest that a slip of the pen makes.
"""

from __future__ import annotations

import importlib.util
import itertools
from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import cache, partial
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from ledger.standards import (
    bolts,
    clearance_holes,
    fasteners,
    hardware,
    instruments,
    materials,
    processes,
)
from ledger.standards.table import table

TESTS = Path(__file__).parents[1]
HELD_BY = {
    "bending": ["reference/test_bend_lengths", "reference/test_published_tables"],
    "bolts": ["reference/test_published_tables"],
    "clearance_holes": [
        "reference/test_standards_tables",
        "reference/test_bolt_tables",
        "standards/test_clearance_holes",
        "reference/test_published_tables",
    ],
    "cut_sizes": ["reference/test_edges_and_cuts", "reference/test_published_tables"],
    "edges": ["reference/test_edges_and_cuts", "reference/test_published_tables"],
    "engagement": ["reference/test_bolt_lengths"],
    "fasteners": ["reference/test_bolt_tables", "reference/test_published_tables"],
    "gauges": ["reference/test_published_tables"],
    "hardware": ["reference/test_bolt_tables", "reference/test_published_tables"],
    "instruments": ["standards/test_tape_classes", "reference/test_published_tables"],
    "lengths": ["reference/test_bolt_lengths", "reference/test_published_tables"],
    "materials": ["reference/test_grades"],
    "papers": ["reference/test_full_size_standards"],
    "processes": ["reference/test_published_tables"],
    "sampling": ["reference/test_sampling_plans"],
    "sheets": ["reference/test_weld_classes", "reference/test_published_tables"],
    "size_limits": ["reference/test_size_limits", "reference/test_published_tables"],
    "smallest": ["reference/test_published_tables"],
    "tools": ["reference/test_bolt_lengths", "reference/test_published_tables"],
    "weld_classes": ["reference/test_weld_classes", "reference/test_published_tables"],
}
CACHES = (
    bolts._named,
    clearance_holes.clearance_holes,
    fasteners.fasteners,
    hardware.all_hardware,
    instruments._by_name,
    materials._by_name,
    processes._by_name,
)
NO_BOUND = 1000  # a last range that goes on: larger bounds than this mean "without end"
OPEN_ENDED = ("up_to", "up_to_mm", "edge_cap", "oversize_up_to")
# not read: range widths that only words tell, and where the standard itself has nothing
SAME = {("smallest", "kerf", 1): "the largest kerf is told to nobody; only the least one is looked up"}


def test_every_table_is_listed():
    files = {p.stem for p in (TESTS.parent / "ledger" / "standards").glob("*.toml")}
    assert set(HELD_BY) == files


def cells(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where the numbers of a table are."""
    if isinstance(value, bool):
        return
    if isinstance(value, int | float):
        yield path
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in parts:
        yield from cells(part, (*path, key))


def slipped(value: float) -> float:
    """The number with its last digit one higher; what the standard does not have (-1) as if it had it."""
    if value == -1:
        return 1.0
    written = Decimal(repr(value))
    sign, digits, exponent = written.as_tuple()
    assert isinstance(exponent, int)
    for place in range(len(digits) - 1, -1, -1):  # the last digit of a long fraction may not change the float
        changed = (*digits[:place], (digits[place] + 1) % 10, *digits[place + 1 :])
        made = Decimal((sign, changed, exponent))
        if float(made) != value:
            break
    return int(made) if isinstance(value, int) else float(made)


def means_no_end(name: str, path: tuple[Any, ...], value: float) -> bool:
    """Whether a change of this cell changes nothing: a bound without end, or what is listed as not read."""
    words = [p for p in path if isinstance(p, str)]
    if words and words[-1] in OPEN_ENDED and value > NO_BOUND - 1 and value != 4000:
        return path[-1] == words[-1] or path[-1] >= 1
    return (name, words[-1], path[-1]) in SAME


@cache
def module(where: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"held_{Path(where).name}", TESTS / f"{where}.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@cache
def assertions(name: str) -> tuple[Callable[[], Any], ...]:
    """The tests that hold a table, each with one of its sets of parameters."""
    found: list[Callable[[], Any]] = []
    for where in HELD_BY[name]:
        for key, function in vars(module(where)).items():
            if key.startswith("test_") and not hasattr(function, "hypothesis"):
                found.extend(calls(function))
    return tuple(found)


def calls(function: Any) -> Iterator[Callable[[], Any]]:
    """A test as plain calls, one for each set of its parameters."""
    marks = [m for m in getattr(function, "pytestmark", ()) if m.name == "parametrize"]
    sets = []
    for mark in marks:
        names, values = mark.args[:2]
        names = [names] if isinstance(names, str) and "," not in names else names
        names = [n.strip() for n in names.split(",")] if isinstance(names, str) else list(names)
        sets.append([dict(zip(names, v if len(names) > 1 else (v,), strict=True)) for v in values])
    for some in itertools.product(*sets):
        yield partial(function, **{k: v for one in some for k, v in one.items()})


def fresh() -> None:
    for kept in CACHES:
        kept.cache_clear()


def noticed(name: str, last: list[int]) -> bool:
    """Whether any of the tests fails; the one that did so last is asked first, and its neighbours."""
    tests = assertions(name)
    order = sorted(range(len(tests)), key=lambda k: (k < last[0], k))
    for k in order:
        try:
            tests[k]()
        except (Exception, pytest.fail.Exception):  # noqa: BLE001 - whatever a test raises is its notice
            last[0] = k
            return True
    return False


def survivors(name: str, step: int = 1, start: int = 0) -> list[str]:
    """The cells of a table whose change nobody notices."""
    data, alive, last = table(name), [], [0]
    for path in list(cells(data))[start::step]:
        at: Any = data
        for key in path[:-1]:
            at = at[key]
        value = at[path[-1]]
        if means_no_end(name, path, value):
            continue
        try:
            at[path[-1]] = slipped(value)
            fresh()
            if not noticed(name, last):
                alive.append(f"{name}: {path} {value} -> {at[path[-1]]}")
        finally:
            at[path[-1]] = value
            fresh()
    return alive


@pytest.mark.parametrize("name", HELD_BY)
def test_the_tables_as_they_are_pass_the_tests_that_hold_them(name):
    for passes in assertions(name):
        passes()


@pytest.mark.parametrize("name", HELD_BY)
def test_a_changed_digit_is_noticed(name):
    """A share of the cells, so that it stays cheap; the whole tables are gone through with the marker bench."""
    count = len(list(cells(table(name))))
    step = max(1, count // 12)
    assert survivors(name, step, start=step // 2) == []


@pytest.mark.bench
@pytest.mark.parametrize("name", HELD_BY)
def test_every_changed_digit_is_noticed(name):
    assert survivors(name) == []


# Cells that once went unnoticed, each by itself.
ONCE_UNNOTICED = [
    ("size_limits", ("fits", "it", "13", 9)),
    ("fasteners", ("system", 0, "threads", 18, "minor", 1)),
    ("lengths", ("inch", "lengths", 3)),
]


@pytest.mark.parametrize(("name", "path"), ONCE_UNNOTICED)
def test_what_once_went_unnoticed_is_noticed(name, path):
    place = list(cells(table(name))).index(path)
    assert survivors(name, step=10**6, start=place) == []
