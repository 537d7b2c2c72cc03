"""What a check must declare, how it is run, and that nothing which is not a number passes."""

from __future__ import annotations

import ast
import sys
from decimal import Decimal
from itertools import combinations
from pathlib import Path

import pytest
from case_builders import case_of, told_by

import ledger.checks
from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.bending import crosses_bend
from ledger.cases.parts import PartCase
from ledger.cases.surroundings import OF_CONNECTIONS, OF_PARTS
from ledger.checks import all_checks, describe
from ledger.checks._frame import check
from ledger.domain.connection import Clearance, Connection, Reading
from ledger.domain.errors import BadInput
from ledger.domain.finding import READER_CODES, SEVERITIES, Finding
from ledger.domain.gate import judge
from ledger.domain.quantity import Bounds, Length
from ledger.domain.record import Dimension
from ledger.domain.shape import Stroke
from ledger.domain.verdict import Policy

CHECKS = {c.name: c for c in all_checks()}
ROOM = Path(ledger.checks.__file__).parent
GOOD = {"on": PartCase, "source": "common practice", "codes": ("bent",), "severity": "stop"}


def made_of(*said, raises: Exception | None = None, **declared):
    """A check that says these things, then raises."""

    def rule(case):
        """Because."""
        yield from said
        if raises:
            raise raises

    return check(**{**GOOD, **declared})(rule)


def test_every_check_declares_all_that_a_table_of_checks_shows():
    for one in all_checks():
        assert one.title.endswith(".")
        assert one.why
        assert one.source
        assert one.codes
        assert one.severity in SEVERITIES
        assert one.on in (*OF_PARTS, *OF_CONNECTIONS)


def test_a_check_describes_itself_by_name_title_source_and_codes():
    rows = {name: (title, source, codes) for name, title, source, codes in describe()}
    assert list(rows) == sorted(CHECKS)
    assert rows["no_connection"] == (
        "A part connects to something, or is recorded as unconnected.",
        "common practice: a part is released with what it fits to",
        ("no_connection",),
    )


@pytest.mark.parametrize("lacks", [{"source": " "}, {"codes": ()}, {"codes": ("",)}, {"severity": "grave"}])
def test_a_check_that_lacks_something_refuses_to_be_made(lacks):
    with pytest.raises(TypeError, match="needs a title"):
        made_of(**lacks)


@pytest.mark.parametrize("name", GOOD)
def test_a_check_that_leaves_a_declaration_out_refuses_to_be_made(name):
    with pytest.raises(TypeError, match=name):
        check(**{k: v for k, v in GOOD.items() if k != name})


def test_a_check_of_something_else_than_a_case_refuses_to_be_made():
    with pytest.raises(TypeError, match="not at Finding"):
        made_of(on=Finding)


def test_a_check_without_a_reason_refuses_to_be_made():
    def rule(case):
        yield from ()

    with pytest.raises(TypeError, match="a reason"):
        check(**GOOD)(rule)


@pytest.fixture
def added_check(tmp_path, monkeypatch):
    """Put one more file among the checks and find them again."""

    def add(name: str, text: str):
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
        monkeypatch.setattr(ledger.checks, "__path__", [*ledger.checks.__path__, str(tmp_path)])
        monkeypatch.delitem(sys.modules, f"ledger.checks.{name}", raising=False)
        return all_checks.__wrapped__()

    return add


RULE = '''"""A title."""
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
@check(on=PartCase, source="{source}", codes=("bent",), severity="stop")
def {name}(case):
    """Because."""
    yield from ()
'''


def test_a_file_put_among_the_checks_is_found(added_check):
    found = added_check("bent_plate", RULE.format(name="bent_plate", source="common practice"))
    assert {c.name for c in found} == {*CHECKS, "bent_plate"}


def test_one_check_without_a_source_keeps_all_from_being_imported(added_check):
    with pytest.raises(TypeError, match="a source"):
        added_check("bent_plate", RULE.format(name="bent_plate", source=""))


def test_a_file_with_a_fault_keeps_all_from_being_imported(added_check):
    with pytest.raises(ZeroDivisionError):
        added_check("bent_plate", "1 / 0")


def test_a_file_without_the_check_of_its_name_is_refused(added_check):
    with pytest.raises(ImportError, match="exactly one check"):
        added_check("bent_plate", RULE.format(name="other", source="common practice"))


def test_a_check_that_crashes_is_an_error_and_tells_what_happened():
    outcome = made_of(raises=ZeroDivisionError("by nothing")).run(None, "PLATE")
    assert (outcome.state, outcome.reason) == ("error", "ZeroDivisionError: by nothing")


def test_a_code_that_was_not_declared_is_an_error():
    outcome = made_of(Finding("twisted", "it is twisted")).run(None, "PLATE")
    assert outcome.state == "error"
    assert "twisted" in outcome.reason


@pytest.mark.parametrize("refusal", [NotRun("no drawing"), BadInput("no drawing")])
def test_a_check_that_could_not_look_is_not_run_and_says_why(refusal):
    outcome = made_of(Finding("bent", "it is bent"), raises=refusal).run(None, "PLATE")
    assert (outcome.state, outcome.reason) == ("not run", "no drawing")


@pytest.mark.parametrize("raised", [NotRun("no drawing"), ValueError("broken")])
def test_a_check_that_did_not_finish_keeps_the_part_from_being_released(raised):
    outcome = made_of(raises=raised).run(None, "PLATE")
    verdict = judge(
        part="PLATE",
        revision="A",
        subject="s",
        outcomes=[outcome, made_of().run(None, "PLATE")],
        signatures=[],
        permits=[],
        policy=Policy(roles=()),
    )
    assert [s.code for s in verdict.stops] == ["not_run" if outcome.state == "not run" else "check_failed"]


def test_what_does_not_apply_keeps_its_reason():
    outcome = made_of(raises=DoesNotApply("measure it")).run(None, "PLATE")
    assert (outcome.state, outcome.reason) == ("does not apply", "measure it")


def test_what_a_check_left_alone_joins_what_it_never_looks_at():
    outcome = made_of(NotChecked("the bend angle"), not_checked="strength").run(None, "PLATE")
    assert (outcome.findings, outcome.reason) == ((), "strength; the bend angle")


def test_no_two_checks_give_the_same_code_of_their_own():
    own = [set(c.codes) - set(READER_CODES) for c in all_checks()]
    for one, other in combinations(own, 2):
        assert one.isdisjoint(other)


@pytest.mark.parametrize("path", sorted(ROOM.glob("[!_]*.py")), ids=lambda p: p.stem)
def test_no_check_imports_another(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = {n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module}
    imported |= {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    ours = {m for m in imported if m.startswith("ledger.checks")}
    assert all(m.removeprefix("ledger.checks.").startswith("_") for m in ours)


def test_every_code_that_the_reader_gives_is_passed_on():
    given = set()
    for path in (ROOM.parent / "profile").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding" and node.args:
                code = node.args[0]
                given |= {c.value for c in ast.walk(code) if isinstance(c, ast.Constant)}
    assert given <= set(READER_CODES)


def passes(outcome) -> bool:
    """Whether a GO could come of it."""
    stops = [f for f in outcome.findings if f.severity == "stop"]
    return outcome.state in ("ran", "does not apply") and not stops


PLATE = {"plate": "100 50", "holes": ["20 20 13.5", "80 20 13.5"]}
NOWHERE = {"plate": "nan 50", "holes": ["20 nan 13.5", "80 20 nan"]}


@pytest.mark.parametrize(
    ("name", "data"),
    [
        (
            "key_dimension",
            {
                "part": {
                    **NOWHERE,
                    "dimensions": [{"name": "w", "nominal": "5 mm", "measured_on": measured_on}],
                }
            },
        )
        for measured_on in ("width", "diameter H2", "distance H1 H2")
    ]
    + [
        (
            "key_dimension",
            {
                "part": {
                    **NOWHERE,
                    "dimensions": [{"name": "w", "nominal": "5 mm", "limits": "min", "measured_on": "width"}],
                }
            },
        ),
        ("opposite_hand", {"part": {**NOWHERE, "hand": "opposite"}, "twin": PLATE}),
        ("opposite_hand", {"part": {**PLATE, "hand": "opposite"}, "twin": NOWHERE}),
        ("opposite_hand", {"part": {**NOWHERE, "hand": "opposite"}, "twin": NOWHERE}),
        ("hole_alignment", {"a": PLATE, "b": {**PLATE, "holes": ["20 nan 13.5", "80 20 13.5"]}}),
        ("hole_alignment", {"a": {**PLATE, "holes": ["20 20 nan", "80 20 13.5"]}, "b": PLATE}),
    ]
    + [
        (name, {"a": a, "b": b, "connection": {"kind": kind, "position": "200 0 0", "gap": ">= 1 mm"}})
        for name in ("interference", "drawn_gap")
        for kind in ("beside", "passes through", "inside")
        for a, b in ((NOWHERE, PLATE), (PLATE, NOWHERE))
    ],
)
def test_a_drawing_with_numbers_that_are_none_never_passes(name, data):
    assert not passes(told_by(CHECKS[name], data))


def test_a_held_dimension_that_is_not_a_number_never_passes():
    part = case_of({"part": {}}).part
    for before, now in (("NaN", "5"), ("5", "NaN"), ("NaN", "NaN")):
        held = Dimension(
            "w", Length("5 mm", Decimal(now)), None, "given", frozen=True, frozen_mm=Decimal(before)
        )
        changed = type(part)(**{n: getattr(part, n) for n in type(part).__slots__} | {"dimensions": (held,)})
        assert not passes(CHECKS["frozen_dimension"].run(PartCase(changed), "subject"))


@pytest.mark.parametrize(
    ("value", "doubt", "least"),
    [
        ("NaN", "0.1", "2"),
        ("2.5", "NaN", "2"),
        ("2.5", "0", "2"),
        ("2.5", "-1", "2"),
        ("Infinity", "0.1", "2"),
        ("5", "0.1", "NaN"),
    ],
)
def test_a_reading_that_is_not_a_number_or_claims_to_be_exact_never_passes(value, doubt, least):
    case = case_of({"a": PLATE, "b": PLATE, "connection": {"kind": "beside"}})
    reading = Reading(Length("?", Decimal(value)), Length("?", Decimal(doubt)), "feeler", "ann", "2026-03-01")
    clearance = Clearance("room", Bounds("?", Decimal(least), None), reading=reading)
    connection = Connection(
        **{n: getattr(case.connection, n) for n in Connection.__slots__} | {"clearances": (clearance,)}
    )
    assert not passes(CHECKS["measured_clearance"].run(type(case)(connection, case.plies), "subject"))


@pytest.mark.parametrize(
    ("a", "b", "crosses"),
    [
        ((0, 0), (10, 0), True),
        ((0, 0), (4, 0), False),
        ((0, 9), (10, 9), False),
        ((5, -1), (5, 3), False),
        ((0, 0), (5, 0), True),
    ],
)
def test_a_way_crosses_a_bend_where_it_meets_the_line_itself(a, b, crosses):
    bend = Stroke(((5.0, -5.0, 0.0), (5.0, 5.0, 0.0)))
    assert crosses_bend(a, b, [bend]) is crosses
