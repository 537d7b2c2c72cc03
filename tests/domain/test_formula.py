"""Formulas over dimensions: what they come to, what they are, and what is refused with its reason."""

from __future__ import annotations

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.errors import BadInput
from ledger.domain.formula import evaluate, kind_words, names_in, of_unit, read_formula

KNOWN = {
    "W": ("mm", 100),
    "H": ("mm", 40),
    "bolt circle": ("mm", 200),
    "A": ("deg", 30),
    "S": ("mm2", 6000),
}


def look(ref):
    unit, number = KNOWN[ref.name]
    return of_unit(Fraction(number), unit, ref)


def value(text):
    return evaluate(read_formula(text), look)


@pytest.mark.parametrize(
    ("text", "number", "kind"),
    [
        ("2*W + 3/16 in", Fraction("204.7625"), "a length"),
        ("W - 1-1/2 in", Fraction("61.9"), "a length"),
        ("W − 1 1/2 in", Fraction("61.9"), "a length"),
        ("(W - H)/2", 30, "a length"),
        ("W - H - 10 mm", 50, "a length"),
        ("W/2/2", 25, "a length"),
        ("W/1/2", 50, "a length"),
        ("1/2*W", 50, "a length"),
        ("-H + W", 60, "a length"),
        ("-(W - H)/2 + W", 70, "a length"),
        ("W/H", Fraction(5, 2), "a plain number"),
        ("W*W/H", 250, "a length"),
        ("W×H", 4000, "an area"),
        ("S/W", 60, "a length"),
        ("2 in2 / W", Fraction("12.9032"), "a length"),
        ("90 deg - A", 60, "an angle"),
        ("[bolt circle] of [ARM-L]/2", 100, "a length"),
        ("W of BASE + H", 140, "a length"),
        ('6" + W', Fraction("252.4"), "a length"),
    ],
)
def test_a_formula_comes_to(text, number, kind):
    found = value(text)
    assert (number, kind) == (found.number, kind_words(found))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("W + 3", "only like is added to like; write its unit"),
        ("W + A", "'A' is an angle"),
        ("W*W - W", "'W\\*W' is an area and 'W' is a length"),
        ("W + 5 kg", "'5 kg' is a mass, not a length"),
        ("W + 5 s", "is a time"),
        ("2W", "to multiply, write 2\\*W"),
        ("W/(H - 40 mm)", "is zero: nothing can be divided by it"),
        ("W/0", "is zero"),
        ("W/1/2 in", "in brackets"),
        ("W*2-1/2 in", "in brackets"),
        ("W +", "at its end"),
        ("W H", "at 'H'"),
        ("(W", "closing bracket"),
        ("", "nothing was given"),
        ("W**2", "expected a number, a name or a bracket"),
        ("__import__('os')", "expected"),
        ("W.real", "expected"),
        ("[W", "expected"),
        ("W + 1,5 mm", "expected"),
        ("W" * 201, "201 characters"),
        ("W\x00", "control character"),
        ("W + 3 in3", "3\\*in3"),
        ("W + 3 qq2", "area in mm2"),
    ],
)
def test_what_does_not_go_is_refused_with_its_reason(text, why):
    with pytest.raises(BadInput, match=why):
        value(text)


def test_names_are_found_once_each_with_their_part():
    found = [str(r) for r in names_in(read_formula("2*(W + [bolt circle] of [ARM-L]) - W + H of BASE"))]
    assert found == ["W", "[bolt circle] of [ARM-L]", "H of BASE"]


def test_slopes_are_the_partial_derivatives():
    found = value("W*H/(W + H)")
    slopes = {str(k): v for k, v in found.slopes.items()}
    assert slopes == {"W": Fraction(40 * 40, 140 * 140), "H": Fraction(100 * 100, 140 * 140)}


def test_brackets_nest_as_deep_as_a_formula_is_long():
    assert value("(" * 90 + "W" + ")" * 90).number == 100


NUMBERS = st.integers(1, 999).map(str)
TREES = st.recursive(
    NUMBERS,
    lambda t: st.tuples(t, st.sampled_from("+-*/"), t).map(lambda p: f"({p[0]}{p[1]}{p[2]})"),
    max_leaves=8,
)


@given(TREES)
def test_plain_arithmetic_is_that_of_fractions(text):
    import ast

    def reckon(node):
        if isinstance(node, ast.Constant):
            return Fraction(node.value)
        a, b = reckon(node.left), reckon(node.right)
        return (
            {ast.Add: a + b, ast.Sub: a - b, ast.Mult: a * b}.get(type(node.op))
            if not isinstance(node.op, ast.Div)
            else a / b
        )

    try:
        expected = reckon(ast.parse(text, mode="eval").body)
    except ZeroDivisionError:
        with pytest.raises(BadInput, match="zero"):
            value(text)
        return
    assert value(text).number == expected


@given(st.text(alphabet="WHA +-*/()[]of0123456789.inm°²'\"", max_size=40))
def test_any_text_is_read_or_refused(text):
    with contextlib.suppress(BadInput):
        read_formula(text)
