"""Welds are declared, told on the command line, and judged with what is bolted across them."""

from __future__ import annotations

import pytest

from ledger.acts.mates import DeclareMate
from ledger.domain.errors import BadInput, UnknownName
from tui.mate_lines import mate_line, mate_words

PLIES = ({"part": "LEFT"}, {"part": "RIGHT"})


@pytest.fixture
def frame(bench):
    """BASE carries LEFT by two of its bolts and RIGHT by the others; both are welded to each other."""
    from bench_shop import plate_dxf

    from ledger.acts.parts import NameGroup

    for number, points in (("LEFT", ((20.0, 20.0), (20.0, 80.0))), ("RIGHT", ((180.0, 20.0), (180.0, 80.0)))):
        bench.plate(number, plate_dxf(points))
    drawn = bench.shop.part("BASE").holes
    for name, side in (("left", 20.0), ("right", 180.0)):
        labels = tuple(h.label for h in drawn if h.centre[0] == side)
        bench.do(NameGroup, number="BASE", name=name, labels=labels)
        plies = ({"part": name.upper(), "group": "bolts"}, {"part": "BASE", "group": name})
        fields = {"mate_kind": "bolted", "joint": "through", "fastener": "M12", "plies": plies}
        bench.do(DeclareMate, name=f"{name}-bolts", **fields)
    return bench


def codes(bench, number):
    (verdict,) = bench.shop.verdicts([number])
    return {f.code for f in (*verdict.stops, *verdict.warnings)} & {
        "weld_spread",
        "weld_class_missing",
        "weld_unsaid",
    }


def test_holes_across_a_weld_take_its_tolerance_unless_they_are_jigged(frame):
    frame.do(DeclareMate, name="SEAM", mate_kind="welded", plies=PLIES)
    assert (
        codes(frame, "LEFT") == codes(frame, "RIGHT") == {"weld_spread", "weld_class_missing", "weld_unsaid"}
    )
    said = {"gap": "0..1.5 mm", "weld_side": "both sides", "weldment": "B"}
    frame.do(DeclareMate, name="SEAM", mate_kind="welded", plies=PLIES, **said)
    assert codes(frame, "LEFT") == {"weld_spread"}
    assert codes(frame, "BASE") == {"weld_spread"}, (
        "the third part has no mate with the weld, yet hears of it"
    )
    told = [
        f.where
        for n in ("LEFT", "BASE")
        for f in frame.shop.verdicts([n])[0].stops
        if f.code == "weld_spread"
    ]
    assert told == ["SEAM/BASE", "SEAM/BASE"], "once in each verdict, though two mates of each say it"
    frame.do(DeclareMate, name="SEAM", mate_kind="welded", plies=PLIES, **said, holes_made="jigged")
    assert codes(frame, "LEFT") == codes(frame, "BASE") == set()
    assert frame.shop.verify() == ()


def test_what_is_said_of_a_weld_is_part_of_what_is_signed(frame):
    frame.do(DeclareMate, name="SEAM", mate_kind="welded", plies=PLIES)
    before = frame.shop.verdicts(["LEFT"])[0].subject
    frame.do(DeclareMate, name="SEAM", mate_kind="welded", plies=PLIES, weldment="B")
    assert frame.shop.verdicts(["LEFT"])[0].subject != before


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"mate_kind": "beside", "weld_side": "arrow side"}, BadInput),
        ({"mate_kind": "welded", "weldment": "E"}, UnknownName),
        ({"mate_kind": "welded", "weld_side": "left"}, UnknownName),
        ({"mate_kind": "welded", "holes_made": "later"}, UnknownName),
        ({"mate_kind": "welded", "joint": "through"}, BadInput),
    ],
)
def test_what_no_weld_can_be_is_refused(frame, fields, fault):
    with pytest.raises(fault):
        frame.do(DeclareMate, name="SEAM", plies=PLIES, **fields)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"joint": "through"}, "names its fastener"),
        ({"fastener": "M12"}, "says how M12 holds: through, tapped"),
        ({"fastener": "M12", "joint": "through", "gap": ">= 2 mm"}, "has no drawn gap"),
    ],
)
def test_a_bolted_mate_says_what_holds_it_and_no_gap(frame, fields, says):
    with pytest.raises(BadInput, match=says):
        frame.do(DeclareMate, name="BOLTS", mate_kind="bolted", plies=PLIES, **fields)


def test_a_weld_in_one_line_reads_back_as_it_was_written(frame):
    text = "SEAM: welded, LEFT on RIGHT, gap 0..1.5 mm, both sides, weldment B, holes drilled after"
    fields = mate_line(text, ["LEFT", "RIGHT"]).fields
    frame.do(DeclareMate, **fields)
    (mate,) = (m for m in frame.shop.mates() if m.name == "SEAM")
    assert mate_words(mate) == text
    assert mate.weld_words == ("root gap 0..1.5 mm", "both sides", "weldment B", "holes drilled after")
    text = "FOOT: tab and slot, LEFT on RIGHT, gap 0..1 mm, both sides"
    frame.do(DeclareMate, **mate_line(text, ["LEFT", "RIGHT"]).fields)
    (mate,) = (m for m in frame.shop.mates() if m.name == "FOOT")
    assert (mate_words(mate), mate.weld_words) == (text, ("root gap 0..1 mm", "both sides"))
    with pytest.raises(UnknownName, match="weldment"):
        mate_line("SEAM: welded, LEFT on RIGHT, weldment E", ["LEFT", "RIGHT"])


def test_a_weld_is_declared_and_listed_on_the_command_line(frame, capsys, monkeypatch):
    import json

    from ledger.cli import main

    monkeypatch.setenv("FITUP_BY", "Mira")
    place = ["--shop", frame.place]
    words = ["mate", "SEAM", "welded", "LEFT", "RIGHT", "--gap", "0..1.5 mm", "--side", "other side"]
    assert main([*words, "--weldment", "C", "--holes", "jigged", *place]) == 0
    capsys.readouterr()
    assert main(["mates", "--json", *place]) == 0
    (row,) = (r for r in json.loads(capsys.readouterr().out)["mates"] if r["mate"] == "SEAM")
    assert (row["gap"], row["weld_side"], row["weldment"], row["holes_made"]) == (
        "0..1.5 mm",
        "other side",
        "C",
        "jigged",
    )
