"""The hardware list: what each joint takes, how often a connection occurs, spares, what is on hand, and the papers."""

from __future__ import annotations

import csv
import io
import json

import pytest
from bench_job import CORNERS, Bench, plate_dxf
from pypdf import PdfReader

from ledger.acts.connections import RecordBolt
from ledger.acts.hardware import RecordOnHand
from ledger.acts.parts import NameGroup, RecordHole, RecordOperation
from ledger.cli import main
from ledger.domain.connection import JOINTS
from ledger.domain.errors import BadInput
from ledger.standards.fasteners import fasteners
from ledger.words.hardware import hardware_line, hardware_lines


@pytest.fixture
def empty(tmp_path, clock):
    made = Bench.started(tmp_path, clock, people=("Mira",))
    yield made
    made.job.close()


def lines_of(bench, spares=0):
    return {line.name: line for line in bench.job.hardware(spares).lines}


def counts(bench, spares=0):
    return {name: line.count for name, line in lines_of(bench, spares).items()}


TAKES = {  # common practice, no source: what each kind of joint of four M12 takes, one washer under head and nut
    "through": {"bolt": 4, "nut": 4, "washer": 8},
    "drilled on site": {"bolt": 4, "nut": 4, "washer": 8},
    "tapped": {"bolt": 4, "washer": 4},
    "stud": {"stud": 4, "nut": 4, "washer": 4},
    "captive nut": {"bolt": 4, "captive nut": 4, "washer": 4},
    "dowel": {"dowel pin": 4},
    "countersunk": {"countersunk screw": 4, "nut": 4, "washer": 4},
    "countersunk tapped": {"countersunk screw": 4},
}


def test_every_joint_is_counted_here():
    assert TAKES.keys() == set(JOINTS)


@pytest.mark.parametrize("joint", TAKES)
def test_a_joint_of_four_takes_what_it_takes(bench, joint):
    for number in ("BASE", "TURN"):
        bench.plate(number, quantity=1)
    labels = tuple(h.label for h in bench.job.part("BASE").holes)
    if "tapped" in joint:
        bench.do(RecordOperation, number="BASE", labels=labels, operation="tapped", thread="M12")
    bench.connection(joint=joint)
    found = bench.job.hardware()
    assert found.not_counted == ()
    assert {line.item: line.count for line in found.lines} == TAKES[joint]


def test_a_length_that_is_not_entered_is_the_next_stock_length_and_says_so(bench):
    bench.two_plates()
    (bolt,) = (line for line in bench.job.hardware().lines if line.item == "bolt")
    # 20 mm of plate, two washers of at most 2.7, nut of at most 10.8, two threads of 1.75: 39.7 mm; 40 is sold
    assert (bolt.size, bolt.length) == ("M12", "40 mm")
    assert bolt.remarks == ("length not entered: next stock length above 39.70 mm",)
    bench.do(RecordBolt, connection="TURN-BASE", length="2 in", washers=1)
    (bolt,) = (line for line in bench.job.hardware().lines if line.item == "bolt")
    assert (bolt.length, bolt.remarks) == ("2 in", ())
    assert counts(bench)["washer M12"] == 2 * 4


def test_a_connection_occurs_as_often_as_its_part_that_there_are_most_of(bench):
    bench.plate("BASE", quantity=None, per_assembly=1, assemblies=3, spares=1)
    bench.plate("TURN", quantity=None, per_assembly=2, assemblies=3, spares=2)
    bench.connection()
    assert counts(bench)["nut M12"] == 4 * 2 * 3


def test_pieces_are_shared_among_the_connections_that_take_the_same_holes(empty):
    far = tuple((x + 300.0, y) for x, y in CORNERS)
    empty.plate("BASE", plate_dxf(CORNERS + far, width=500.0), quantity=1)
    for name, there in (("left", lambda h: h.centre[0] < 250), ("right", lambda h: h.centre[0] > 250)):
        labels = tuple(h.label for h in empty.job.part("BASE").holes if there(h))
        empty.do(NameGroup, number="BASE", name=name, labels=labels)
    empty.plate("TURN", quantity=2)
    for side in ("left", "right"):
        plies = ({"part": "TURN", "group": "bolts"}, {"part": "BASE", "group": side})
        empty.connection(name=f"TURN-{side}", plies=plies)
    assert counts(empty)["nut M12"] == 2 * 4


def test_of_a_connection_that_does_not_fit_yet_all_holes_of_its_groups_count(bench):
    moved = ((26.0, 20.0), *CORNERS[1:])
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf(moved), by="Mira")
    assert bench.codes("TURN") & {"offset"}
    assert counts(bench)["nut M12"] == 8


def test_spares_are_rounded_up_and_what_is_on_hand_is_taken_off(bench):
    bench.two_plates()
    bench.do(RecordOnHand, item="nut", size="M12", count=5)
    nut, washer = (lines_of(bench, 10)[name] for name in ("nut M12", "washer M12"))
    assert (nut.count, nut.spares, nut.on_hand, nut.to_buy) == (8, 1, 5, 4)
    assert (washer.count, washer.spares, washer.to_buy) == (16, 2, 18)
    bench.do(RecordOnHand, item="nut", size="M12", count=40)
    assert lines_of(bench)["nut M12"].to_buy == 0
    assert bench.job.verify() == ()


def test_a_length_on_hand_in_inches_is_the_same_bolt_in_millimeters(bench):
    bench.two_plates()
    bench.do(RecordBolt, connection="TURN-BASE", length="50.8 mm")
    bench.do(RecordOnHand, item="bolt", size="M12", length="2 in", count=3)
    assert lines_of(bench)["bolt M12 x 50.8 mm"].on_hand == 3


@pytest.mark.parametrize("size", sorted(f.designation for f in fasteners()))
def test_every_thread_of_the_tables_can_be_on_hand_as_bolt_nut_and_washer(empty, size):
    for line in (f"3 nut {size}", f"4 washer {size}", f"5 bolt {size} x 60 mm"):
        empty.do(RecordOnHand, **hardware_line(line).fields)
    assert sorted(line.on_hand for line in empty.job.hardware().lines) == [3, 4, 5]


def test_bolts_of_one_inch_have_washers_of_one_inch(empty):
    for number in ("BASE", "TURN"):
        empty.plate(number, plate_dxf(diameter=27.0), quantity=1)
    empty.connection(fastener="1-8 UNC")
    empty.do(RecordOnHand, **hardware_line("3 washers 1 in").fields)
    washer = lines_of(empty)["washer 1 in"]
    assert (washer.count, washer.on_hand) == (8, 3)


def test_what_is_on_hand_and_not_needed_is_listed(empty):
    empty.do(RecordOnHand, item="bolt", size="M6", length="20 mm", count=7)
    assert list(hardware_lines(empty.job.hardware())) == [
        "     0  bolt M6 x 20 mm  (7 on hand)",
        "        not needed",
    ]


def test_what_cannot_be_counted_is_told_with_what_is_missing(empty):
    for number in ("BASE", "TURN"):
        empty.job.write_part(number, {"title": "plate", "thickness": "10 mm"}, by="Mira")
    empty.connection(plies=({"part": "TURN"}, {"part": "BASE"}))
    found = empty.job.hardware()
    assert found.lines == ()
    assert [n.words for n in found.not_counted] == ["TURN-BASE: no holes known of TURN and BASE"]


def test_studs_of_a_structure_are_there_and_bought_parts_are_listed(empty):
    empty.plate("BASE", quantity=1)
    empty.job.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    empty.job.write_part("GEAR", {"title": "gearbox", "form": "bought", "quantity": 2}, by="Mira")
    for k, (x, y) in enumerate(CORNERS, 1):
        at = {"x": f"{x} mm", "y": f"{y} mm", "diameter": "12 mm", "uncertainty": "0.1 mm"}
        empty.do(RecordHole, number="PIER", label=f"S{k}", **at)
    plies = ({"part": "BASE", "group": "bolts"}, {"part": "PIER"})
    empty.connection(name="BASE-PIER", plies=plies, joint="stud")
    found = empty.job.hardware()
    assert {line.item: line.count for line in found.lines} == {"nut": 4, "washer": 4}
    assert [(b.number, b.quantity) for b in found.bought] == [("GEAR", 2)]


@pytest.mark.parametrize("percent", [-1, 1001])
def test_a_share_of_spares_that_cannot_be_is_refused(bench, percent):
    with pytest.raises(BadInput, match=f"read {percent} % of spares"):
        bench.job.hardware(percent)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("bolt M8 x 30 mm", "COUNT ITEM SIZE"),
        ("3 nut M8 x 3 mm", "has no length"),
        ("3 bolt M8", "how long is the bolt"),
        ("3 blt M8 x 30 mm", "no item of hardware 'blt'"),
        ("3 bolt M81 x 30 mm", "no fastener"),
        ("3 bolt M8 x 0 mm", "above zero"),
        ("9999999 nut M8", "COUNT ITEM SIZE"),
    ],
)
def test_a_line_that_cannot_be_is_refused(line, said):
    with pytest.raises(BadInput, match=said):
        hardware_line(line)


def test_the_list_as_csv_and_pdf_says_the_same(bench, tmp_path, capsys):
    bench.two_plates()
    bench.do(RecordOnHand, item="nut", size="M12", count=5)
    base = ["--job", bench.place, "--by", "Mira", "--json"]
    assert main([*base, "hardware", "--spares", "10"]) == 0
    told = json.loads(capsys.readouterr().out)["hardware"]
    assert main([*base, "hardware", "--spares", "10", "-o", str(tmp_path / "h.csv")]) == 0
    assert main([*base, "hardware", "--spares", "10", "-o", str(tmp_path / "h.pdf")]) == 0
    rows = list(csv.DictReader(io.StringIO((tmp_path / "h.csv").read_text(encoding="utf-8"))))
    assert [(r["item"], int(r["to buy"])) for r in rows] == [(x["item"], x["to_buy"]) for x in told]
    text = " ".join(PdfReader(tmp_path / "h.pdf").pages[0].extract_text().split())
    assert "M12" in text
    assert "TURN-BASE 8 (2 x 4)" in text
    assert main([*base, "hardware", "-o", str(tmp_path / "h.txt")]) == 2
    assert not (tmp_path / "h.txt").exists()


def test_the_command_records_what_is_on_hand_and_undo_takes_it_back(empty, capsys):
    base = ["--job", empty.place, "--by", "Mira"]
    assert main([*base, "hardware", "12 bolts M8 x 30 mm"]) == 0
    assert "12 pieces of bolt M8 x 30 mm on hand" in capsys.readouterr().out
    assert counts(empty) == {"bolt M8 x 30 mm": 0}
    assert main([*base, "undo"]) == 0
    assert counts(empty) == {}
