"""Every count that the reader tells has the plural of its number."""

from __future__ import annotations

import ast
import re
from itertools import pairwise
from pathlib import Path

import pytest
from profile_drawings import box, circle, codes, drawing, header, line, raw, read

import ledger.profile
from ledger.domain.errors import BadInput
from ledger.profile.choice import only_outline

ROOM = Path(ledger.profile.__file__).parent
PLATE = box(0, 0, 120, 80)
NO_UNIT = header(ACADVER="AC1009")
NOUNS = (
    "entities|gaps|lines|ends|points|knots|sizes|outlines|contours|texts|places|times|sides|holes|arcs|layers"
)
# What follows a number that is never 1: limits, sides and ends of which there are three, outlines side by side.
NEVER_ONE = {
    "blocks.py: entities", "contours.py: ends", "contours.py: places", "curves.py: points", "departures.py: sides",
    "nest.py: outlines", "parse.py: points", "recognise.py: contours", "scan.py: entities",
}  # fmt: skip


def chain(n, y=200.0):
    """An open contour of n lines."""
    return [line(10.0 * k, y, 10.0 * (k + 1), y + 3.0 * k) for k in range(n)]


def star(n):
    """One line with a branch at its end: n loose ends more than one."""
    return [line(0, 200, 10, 200), *(line(10, 200, 20, 200 + 5 * k) for k in range(2, n + 2))]


def gapped(n):
    """A plate with n gaps of 0.005 mm in its outline."""
    corners = [(0, 0), (120, 0), (120, 80), (0, 80)]
    lines = []
    for k, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True)):
        off = 0.005 * (k < n)
        way = ((b[0] - a[0]) / 120 or 0, (b[1] - a[1]) / 80 or 0)
        lines.append(line(*a, b[0] - way[0] * off, b[1] - way[1] * off))
    return lines


def texts(n):
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        for k in range(n):
            space.add_text("note", dxfattribs={"layer": "NOTES", "insert": (5, 5 * k)})

    return drawing(draw)


def sheet(n):
    def draw(space, document):
        for name in ("TITLE", "BORDER"):
            document.layers.add(name)
            space.add_line((0, 300), (5, 300), dxfattribs={"layer": name})
        for k in range(9):
            space.add_line((0, 10 * k), (50, 10 * k))
        for k in range(n):
            space.add_text("note", dxfattribs={"insert": (5, 5 * k)})

    return drawing(draw)


def path(n):
    return raw(PLATE, *[line(10, 10 + 5 * k, 20, 10 + 5 * k, layer="PIERCE") for k in range(n)])


def sizes(n):
    return raw(PLATE, *[circle(20 + 30 * k, 20, 2.25 + k) for k in range(n)], head=NO_UNIT)


TOLD = {
    "open_contour": (lambda n: raw(PLATE, *chain(n)), "of {} is open", ("entity", "entities")),
    "gap_closed": (lambda n: raw(*gapped(n)), "{} closed", ("gap was", "gaps were")),
    "zero_length": (
        lambda n: raw(PLATE, *[line(5, 5 + k, 5, 5 + k) for k in range(n)]),
        "{} left out",
        ("entity of zero length was", "entities of zero length were"),
    ),
    "unexplained_content": (texts, "{} on layer NOTES", ("TEXT entity", "TEXT entities")),
    "drawing_sheet": (sheet, "profile: {},", ("text or dimension", "texts and dimensions")),
    "tool_path": (path, "and {} open", ("line is", "lines are")),
    "unit_missing": (sizes, "of {})", ("hole size", "hole sizes")),
}


@pytest.mark.parametrize("count", [0, 1, 2])
@pytest.mark.parametrize("code", TOLD)
def test_a_count_is_told_with_its_plural_and_nothing_is_told_of_none(code, count):
    make, around, nouns = TOLD[code]
    profile = read(make(count))
    if count == 0:
        assert code == "unit_missing" or code not in codes(profile)
        assert not any(re.search(r"(?<![\d.])0 [a-z]", f.message) for f in profile.findings)
        return
    said = around.format(f"{count} {nouns[count - 1]}")
    assert any(said in f.message for f in profile.findings if f.code == code), [
        f.message for f in profile.findings
    ]


@pytest.mark.parametrize("count", [2, 3])
def test_loose_ends_are_counted(count):
    profile = read(raw(PLATE, *star(count)))
    assert any(f"are connected with {count + 1} loose ends" in f.message for f in profile.findings)


def test_an_outline_that_is_none_is_told_with_how_many_there_are():
    for rings, said in (((PLATE,), "has 1 outline,"), ((PLATE, box(200, 0, 300, 80)), "has 2 outlines,")):
        with pytest.raises(BadInput, match=said):
            only_outline(read(raw(*rings)), 9)


def plurals_after_numbers():
    """Every plural noun that a string of the room has behind a value that is not counted by the one function."""
    for module in sorted(ROOM.glob("*.py")):
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            parts = node.values if isinstance(node, ast.JoinedStr) else ()
            for value, text in pairwise(parts):
                if not (isinstance(value, ast.FormattedValue) and isinstance(text, ast.Constant)):
                    continue
                word = getattr(value.value, "id", "") in ("kind", "why")  # names of an entity, of a linetype
                said = re.match(rf" (?:[a-z]+ )?({NOUNS})\b", str(text.value))
                if said and not word:
                    yield f"{module.name}: {said[1]}"


def test_no_other_number_stands_before_a_plural():
    assert set(plurals_after_numbers()) == NEVER_ONE
