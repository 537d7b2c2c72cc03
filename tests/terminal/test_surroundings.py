"""The screens by mouse, while the terminal changes size, without colour, in poor terminals and without UTF-8."""

from __future__ import annotations

import re
import time

import pytest

from ledger.job import Job

SIZES = [(80, 24), (120, 40)]
_COLOUR = re.compile(r"\x1b\[[0-9;:]*m")


def listed(open_window, folder, size=(80, 24), **env):
    window = open_window(folder, size, env=env)
    window.wait("0 GO, 2 NO-GO")
    return window


def pressed(window, key, expected):
    """Click a key of the foot until what it opens is there: a click is lost while the foot is laid anew."""
    for _ in range(5):
        window.click(*window.find(key))
        until = time.monotonic() + 4
        while time.monotonic() < until:
            if expected in window.flat():
                return
            time.sleep(0.05)
    raise AssertionError(f"{key!r} was clicked in vain; on the screen:\n{window.text()}")


@pytest.mark.parametrize("size", SIZES)
def test_rows_and_the_foot_can_be_used_by_mouse(open_window, plates, size):
    window = listed(open_window, plates, size)
    window.click(*window.find("TURN A"))  # a first click brings the cursor, a second one opens
    time.sleep(1)
    if "A (open)" not in window.text():
        window.click(*window.find("TURN A"))
    window.wait("TURN A (open)", "may change")
    pressed(window, "t Drawing", "DXF file of TURN")
    window.press("Escape")
    window.wait(gone=("DXF file of",))
    pressed(window, "s Sign", "Mira signs as drawn")


def test_nothing_typed_is_lost_when_the_terminal_changes_size(open_window, plates):
    window = listed(open_window, plates, (120, 40))
    window.press("Enter")
    window.wait("BASE A (open)")
    window.press("k")
    window.wait("key dimension of BASE")
    window.write("lip = 3/16 in")
    window.wait("= 4.7625 mm")
    for size in ((60, 20), (200, 60)):
        window.resize(*size)
        window.wait("lip = 3/16 in", "key dimension of BASE")
        assert len(window.lines()) >= size[1]
    window.write(" ±0.01")
    window.press("Enter")
    window.wait("recorded", gone=("key dimension of",))
    assert window.leave() == 0
    with Job(str(plates / "fitup.db"), lambda _name: "") as job:
        lip = next(d for d in job.part("BASE").dimensions if d.name == "lip")
    assert (lip.nominal.written, str(lip.limits.upper_mm)) == ("3/16 in", "0.254")


def hues(painted):
    """Every colour asked for that is not a grey."""
    found = set()
    for sequence in _COLOUR.findall(painted):
        numbers = [int(n) if n else 0 for n in re.split("[;:]", sequence[2:-1])]
        while numbers:
            first = numbers.pop(0)
            if first in (38, 48) and numbers[:1] == [2]:
                rgb, numbers = tuple(numbers[1:4]), numbers[4:]
                if len(set(rgb)) > 1:
                    found.add(rgb)
            elif first in (38, 48) and numbers[:1] == [5]:
                found |= {numbers[1]} if 16 <= numbers[1] < 232 or 0 < numbers[1] < 7 else set()
                numbers = numbers[2:]
            elif first in range(31, 37) or first in range(41, 47):
                found.add(first)
    return found


def test_a_terminal_with_colour_gets_colour(open_window, plates):
    assert hues(listed(open_window, plates).coloured())


def test_no_color_leaves_glyph_and_word_and_no_hue(open_window, plates):
    window = listed(open_window, plates, NO_COLOR="1")
    assert "✗ NO-GO" in window.text()
    assert hues(window.coloured()) == set()


def foreign(window):
    """What is not ASCII on the screen, with the lines that hold it."""
    return {c: line for line in window.lines() for c in line if not c.isascii()}


@pytest.mark.parametrize(
    "env",
    [
        {"TERM": "linux", "COLORTERM": None},
        {"LC_ALL": "C", "LANG": "C"},
        {"LC_ALL": None, "LANG": "C"},
    ],
    ids=["the console", "a C locale", "LANG=C alone"],
)
def test_a_poor_terminal_gets_only_ascii(open_window, plates, env):
    window = listed(open_window, plates, **env)
    assert "x NO-GO" in window.text()
    assert foreign(window) == {}
    window.press("v")
    window.wait("for this revision as it stands")
    assert foreign(window) == {}


def test_sixteen_colours_are_enough(open_window, plates):
    window = listed(open_window, plates, TERM="xterm", COLORTERM=None)
    assert "✗ NO-GO" in window.text()
    assert "\x1b[38;2;" not in window.coloured()
