"""Welds are declared, told on the command line, and judged with what is bolted across them."""

from __future__ import annotations

import pytest

from ledger.acts.connections import RecordConnection
from ledger.domain.errors import BadInput, UnknownName
from ledger.words.connections import connection_line, connection_words

PLIES = ({"part": "LEFT"}, {"part": "RIGHT"})


@pytest.fixture
def frame(bench):
    """BASE carries LEFT by two of its bolts and RIGHT by the others; both are welded to each other."""
    from bench_job import plate_dxf

    from ledger.acts.parts import NameGroup

    for number, points in (("LEFT", ((20.0, 20.0), (20.0, 80.0))), ("RIGHT", ((180.0, 20.0), (180.0, 80.0)))):
        bench.plate(number, plate_dxf(points))
    drawn = bench.job.part("BASE").holes
    for name, side in (("left", 20.0), ("right", 180.0)):
        labels = tuple(h.label for h in drawn if h.centre[0] == side)
        bench.do(NameGroup, number="BASE", name=name, labels=labels)
        plies = ({"part": name.upper(), "group": "bolts"}, {"part": "BASE", "group": name})
        fields = {"connection_kind": "bolted", "joint": "through", "fastener": "M12", "plies": plies}
        bench.do(RecordConnection, name=f"{name}-bolts", **fields)
    return bench


def codes(bench, number):
    (verdict,) = bench.job.verdicts([number])
    return {f.code for f in (*verdict.stops, *verdict.warnings)} & {
        "weld_spread",
        "weld_class_missing",
        "weld_unsaid",
    }


def test_holes_across_a_weld_take_its_tolerance_unless_they_are_jigged(frame):
    frame.do(RecordConnection, name="SEAM", connection_kind="welded", plies=PLIES)
    assert (
        codes(frame, "LEFT") == codes(frame, "RIGHT") == {"weld_spread", "weld_class_missing", "weld_unsaid"}
    )
    said = {"gap": "0..1.5 mm", "weld_side": "both sides", "weld_class": "B"}
    frame.do(RecordConnection, name="SEAM", connection_kind="welded", plies=PLIES, **said)
    assert codes(frame, "LEFT") == {"weld_spread"}
    assert codes(frame, "BASE") == {"weld_spread"}, (
        "the third part has no connection with the weld, yet hears of it"
    )
    told = [
        f.where for n in ("LEFT", "BASE") for f in frame.job.verdicts([n])[0].stops if f.code == "weld_spread"
    ]
    assert told == ["SEAM/BASE", "SEAM/BASE"], "once in each verdict, though two connections of each say it"
    frame.do(
        RecordConnection, name="SEAM", connection_kind="welded", plies=PLIES, **said, holes_made="jigged"
    )
    assert codes(frame, "LEFT") == codes(frame, "BASE") == set()
    assert frame.job.verify() == ()


def test_what_is_said_of_a_weld_is_part_of_what_is_signed(frame):
    frame.do(RecordConnection, name="SEAM", connection_kind="welded", plies=PLIES)
    before = frame.job.verdicts(["LEFT"])[0].subject
    frame.do(RecordConnection, name="SEAM", connection_kind="welded", plies=PLIES, weld_class="B")
    assert frame.job.verdicts(["LEFT"])[0].subject != before


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"connection_kind": "beside", "weld_side": "arrow side"}, BadInput),
        ({"connection_kind": "welded", "weld_class": "E"}, UnknownName),
        ({"connection_kind": "welded", "weld_side": "left"}, UnknownName),
        ({"connection_kind": "welded", "holes_made": "later"}, UnknownName),
        ({"connection_kind": "welded", "joint": "through"}, BadInput),
    ],
)
def test_what_no_weld_can_be_is_refused(frame, fields, fault):
    with pytest.raises(fault):
        frame.do(RecordConnection, name="SEAM", plies=PLIES, **fields)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"joint": "through"}, "names its fastener"),
        ({"fastener": "M12"}, "says how M12 holds: through, tapped"),
        ({"fastener": "M12", "joint": "through", "gap": ">= 2 mm"}, "has no drawn gap"),
    ],
)
def test_a_bolted_connection_says_what_holds_it_and_no_gap(frame, fields, says):
    with pytest.raises(BadInput, match=says):
        frame.do(RecordConnection, name="BOLTS", connection_kind="bolted", plies=PLIES, **fields)


def test_a_weld_in_one_line_reads_back_as_it_was_written(frame):
    text = "SEAM: welded, LEFT on RIGHT, gap 0..1.5 mm, both sides, weld class B, holes drilled after"
    fields = connection_line(text, ["LEFT", "RIGHT"]).fields
    frame.do(RecordConnection, **fields)
    (connection,) = (m for m in frame.job.connections() if m.name == "SEAM")
    assert connection_words(connection) == text
    assert connection.weld_words == (
        "root gap 0..1.5 mm",
        "both sides",
        "weld class B",
        "holes drilled after",
    )
    text = "FOOT: tab and slot, LEFT on RIGHT, gap 0..1 mm, both sides"
    frame.do(RecordConnection, **connection_line(text, ["LEFT", "RIGHT"]).fields)
    (connection,) = (m for m in frame.job.connections() if m.name == "FOOT")
    assert (connection_words(connection), connection.weld_words) == (text, ("root gap 0..1 mm", "both sides"))
    with pytest.raises(UnknownName, match="weld class"):
        connection_line("SEAM: welded, LEFT on RIGHT, weld class E", ["LEFT", "RIGHT"])


def test_a_weld_is_declared_and_listed_on_the_command_line(frame, capsys, monkeypatch):
    import json

    from ledger.cli import main

    monkeypatch.setenv("FITUP_BY", "Mira")
    place = ["--job", frame.place]
    words = ["connect", "SEAM", "welded", "LEFT", "RIGHT", "--gap", "0..1.5 mm", "--side", "other side"]
    assert main([*words, "--weld-class", "C", "--holes", "jigged", *place]) == 0
    capsys.readouterr()
    assert main(["connections", "--json", *place]) == 0
    (row,) = (r for r in json.loads(capsys.readouterr().out)["connections"] if r["connection"] == "SEAM")
    assert (row["gap"], row["weld_side"], row["weld_class"], row["holes_made"]) == (
        "0..1.5 mm",
        "other side",
        "C",
        "jigged",
    )
