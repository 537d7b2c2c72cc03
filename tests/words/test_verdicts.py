"""Verdicts in words: one line a part, each stop once with its first fix, and everything on request."""

from __future__ import annotations

from ledger.domain.finding import Finding, Why
from ledger.domain.todo import todo_of, todos
from ledger.domain.verdict import Verdict
from ledger.words.verdicts import in_full, in_short, why_lines

OFF = Finding(
    "offset", "H5 of ARM-R and H4 of GUSSET are 3.000 mm out, the joint allows 1.000 mm",
    where="ARM-R-GUSSET/ARM-R/H5", fix="move H5 of ARM-R by (-3.00, +0.00) mm; or make a slot of it",
    measured="3.000 mm", limit="1.000 mm", sum=("    -3.000 mm  H5 off H4",),
)  # fmt: skip
ASKED = Finding("question_open", "still to be decided: which side is the tray?", where="Q1", fix="decide it")
UNSIGNED = Finding("role_missing", 'no "drawn" signature', where="drawn", fix="sign as drawn")
FOLLOWS = Finding("unmatched", "H5 has no counterpart", where="A/B/H5", follows="not_mirrored")
CLOSE = Finding("edge_near", "close to an edge", "warning", where="A/B/edges")
MATTERS = tuple(f"A: matter {k}" for k in range(20))


def verdict(part, *stops, warnings=()):
    return Verdict(part, "A", "0" * 64, stops, warnings, (), (), MATTERS)


BOTH = (verdict("ARM-R", OFF, FOLLOWS, UNSIGNED), verdict("GUSSET", OFF, ASKED, UNSIGNED, warnings=(CLOSE,)))


def test_a_stop_asks_to_fix_to_wait_or_to_sign():
    assert [todo_of(s) for s in (OFF, ASKED, UNSIGNED)] == ["fix", "wait", "sign"]
    assert todos((OFF, FOLLOWS, ASKED, UNSIGNED)) == {"fix": 1, "wait": 1, "sign": 1}


def test_a_stop_of_a_connection_is_told_once_with_both_parts_and_its_first_fix():
    lines = list(in_short(BOTH))
    assert lines.count("  ARM-R, GUSSET: H5 of ARM-R is 3.00 mm off (allows 1.00 mm)  [offset]") == 1
    after = lines[lines.index("  ARM-R, GUSSET: H5 of ARM-R is 3.00 mm off (allows 1.00 mm)  [offset]") + 1]
    assert after == "    move H5 of ARM-R by (-3.00, +0.00) mm"


def test_every_part_has_one_line_with_what_there_is_to_do():
    lines = list(in_short(BOTH))
    assert lines[0].split() == ["part", "rev", "verdict", "fix", "wait", "sign", "why"]
    assert lines[1].split()[:6] == ["ARM-R", "A", "NO-GO", "1", "-", "1"]
    assert lines[2].split()[:6] == ["GUSSET", "A", "NO-GO", "1", "1", "1"]
    assert "to sign as drawn: ARM-R, GUSSET" in lines


def test_open_partners_take_one_line():
    opened = [Finding("partner_open", "is open", where=f"A-B/{p}", fix="lock it") for p in ("BASE", "TURN")]
    lines = list(in_short([verdict("ARM-R", *opened), verdict("GUSSET", opened[0])]))
    (told,) = [line for line in lines if "partner_open" in line]
    assert "ARM-R waits for BASE, TURN; GUSSET waits for BASE" in told


def test_nothing_that_stops_is_left_out_of_the_short_answer():
    text = "\n".join(in_short(BOTH))
    for stop in (OFF, ASKED):
        assert f"[{stop.code}]" in text
    assert "1 stop that only follows from these" in text
    assert "1 warning (edge_near)" in text


def test_what_is_not_checked_takes_three_lines_and_is_counted():
    lines = list(in_short(BOTH))
    at = next(k for k, line in enumerate(lines) if line.startswith("not checked"))
    assert len(lines) - at == 4  # and where everything is told
    assert "a licensed engineer and local codes decide" in lines[at]
    assert "and 20 matters of these parts" in lines[-2]
    assert "--all" in lines[-1]


def test_eleven_parts_take_forty_lines():
    many = [verdict(f"PART-{k}", UNSIGNED) for k in range(8)]
    assert len(list(in_short([*many, *BOTH, verdict("BASE")]))) <= 40


def test_the_full_answer_has_every_word():
    text = "\n".join(in_full(BOTH))
    for finding in (OFF, ASKED, UNSIGNED, CLOSE):
        assert finding.message in text
        assert finding.fix in text
    assert all(matter in text for matter in MATTERS)


def test_why_has_the_sum_every_fix_and_the_source():
    lines = list(why_lines(Why("ARM-R", (OFF,), "ASME Y14.5 appendix B")))
    assert lines[0] == "ARM-R: H5 of ARM-R is 3.00 mm off (allows 1.00 mm)"
    assert "      -3.000 mm  H5 off H4" in lines
    assert lines[-3:] == [
        "  fix: move H5 of ARM-R by (-3.00, +0.00) mm",
        "   or: make a slot of it",
        "  source: ASME Y14.5 appendix B",
    ]
