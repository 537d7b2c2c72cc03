"""What goes into a packet."""

from __future__ import annotations

import csv
import hashlib
import io
import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from decimal import Decimal

import pytest
from packet_samples import DXF, act_of, bent, files_of, packet, pier, plate, rectangle, sealed_row, taken

from ledger.domain.dimension_words import figure
from ledger.domain.errors import BadInput, Tampered
from ledger.domain.quantity import Length
from ledger.domain.record import Operation, Part
from ledger.domain.shape import Profile
from ledger.packet.contents import contents
from ledger.packet.inspect import inspect
from ledger.papers.cut_list import HEADINGS, cell, cut_list
from ledger.papers.notes import vendor_notes

NAME = "PL-101-A_S355_12mm_x2.dxf"


def rows(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def listed(*parts):
    return rows(cut_list(parts, {}))


def notes(*parts, files=None):
    return vendor_notes(parts, files or {}).decode("utf-8")


def test_a_packet_holds_drawing_cut_list_picture_and_notes():
    assert set(files_of([plate()], {"PL-101": DXF})) == {
        NAME,
        "cut-list.csv",
        "notes.txt",
        "pictures/PL-101-A.svg",
    }


def test_the_drawing_leaves_with_exactly_its_bytes():
    odd = DXF.replace(b"\r\n", b"\n") + b"\r\n \0\xff"
    part = plate(taken=taken(plate().profile, odd))
    assert files_of([part], {"PL-101": odd})[NAME] == odd


def test_the_picture_is_xml_that_names_the_part():
    picture = files_of([plate()], {"PL-101": DXF})["pictures/PL-101-A.svg"]
    assert ET.fromstring(picture).tag.endswith("svg")  # noqa: S314 - our own picture
    assert b"PL-101" in picture


def test_the_same_parts_give_the_same_bytes():
    parts = [plate(), pier()]
    assert files_of(parts, {"PL-101": DXF}) == files_of(parts, {"PL-101": DXF})


def test_bytes_that_are_not_those_checked_are_refused():
    with pytest.raises(Tampered, match="not those"):
        files_of([plate()], {"PL-101": DXF.replace(b"\r\n", b"\n")})


def test_a_drawing_without_its_bytes_is_refused():
    with pytest.raises(BadInput, match="missing"):
        files_of([plate()], {})


@pytest.mark.parametrize("number", ["PIER-1", "PL-999"])
def test_bytes_without_a_drawing_are_refused(number):
    with pytest.raises(BadInput, match=number):
        files_of([plate(), pier()], {"PL-101": DXF, number: DXF})


def test_a_part_named_twice_is_refused():
    with pytest.raises(BadInput, match="twice"):
        files_of([plate(), plate(revision="B")], {"PL-101": DXF})


def test_parts_that_differ_only_in_capitals_are_refused():
    with pytest.raises(BadInput, match="one file"):
        files_of([plate(), plate(number="pl-101")], {"PL-101": DXF, "pl-101": DXF})


def test_pictures_that_would_be_one_file_are_refused_though_their_drawings_differ():
    other = plate(number="PL 101", material="S235")
    with pytest.raises(BadInput, match="one file"):
        files_of([plate(), other], {"PL-101": DXF, "PL 101": DXF})


def test_no_parts_are_refused():
    with pytest.raises(BadInput, match="no parts"):
        files_of([], {})


def test_the_cut_list_says_all_of_a_plate():
    [row] = rows(cut_list([plate()], {"PL-101": (NAME, DXF)}))
    net = 300 * 200 - 5 * math.pi * 49 - 20 * 14  # by hand: four holes, a slot of two halves and 20 x 14
    length = 1000 + 5 * math.pi * 14 + 2 * 20
    assert row == {
        "number": "PL-101",
        "revision": "A",
        "title": "Pier plate",
        "form": "cut",
        "material": "S355",
        "thickness": "12 mm",
        "thickness mm": "12",
        "coating": "",
        "process": "laser",
        "quantity": "2",
        "counted as": "",
        "etched": "",
        "hand": "as drawn",  # one of its four holes is tapped
        "width mm": "300",
        "height mm": "200",
        "net area mm2": f"{net:.1f}",
        "cut length mm": f"{length:.1f}",
        "pierces": "6",
        "mass kg": f"{net * 12 * 7.85e-6:.3f}",
        "holes": "5",
        "hole sizes mm": "4 x 14; 1 x slot 14 x 34",
        "file": NAME,
        "sha256": hashlib.sha256(DXF).hexdigest(),
    }


def test_the_cut_list_keeps_a_thickness_as_written_beside_its_mm():
    [row] = listed(plate(thickness=Length("3/16 in", Decimal("4.7625"))))
    assert (row["thickness"], row["thickness mm"]) == ("3/16 in", "4.7625")


def test_the_cut_list_names_the_finish_per_face_and_the_mirrored_part():
    coat = Length("0.08 mm", Decimal("0.08"))
    [row] = listed(
        plate(coating="powder coat", coating_thickness=coat, hand="opposite", opposite_of="PL-100")
    )
    assert row["coating"] == "powder coat, 0.08 mm per face"
    assert row["hand"] == "opposite hand of PL-100"


@pytest.mark.parametrize("order", [0, 1, 2])
def test_only_what_is_cut_stands_in_the_cut_list(order):
    stud = Part("ST-1", "A", "stud", "bought", quantity=4)
    with_drawing = replace(pier(), number="PIER-2", taken=plate().taken)
    parts = [pier(), stud, with_drawing]
    parts.insert(order, plate())
    assert [row["number"] for row in listed(*parts)] == ["PL-101"]
    assert listed(pier(), stud) == []


@pytest.mark.parametrize("others", [[], [pier(), Part("ST-1", "A", "stud", "bought", quantity=4)]])
def test_a_packet_verifies_with_and_without_parts_that_are_not_cut(others):
    files = files_of([plate(), *others], {"PL-101": DXF})
    assert inspect(packet(files, sealed_row(act_of(files)))).problems == ()


def test_a_packet_of_an_older_program_that_lists_its_site_parts_still_verifies():
    files = files_of([plate(), pier()], {"PL-101": DXF})
    files["cut-list.csv"] += b"PIER-1,A,Concrete pier,site\r\n"
    assert inspect(packet(files, sealed_row(act_of(files)))).problems == ()


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "\u3000=", "＝", "＋", "－", "＠"])
def test_a_cell_that_would_run_as_a_formula_is_led_by_an_apostrophe(start):
    [row] = listed(plate(title=f"{start}cmd()"))
    assert row["title"] == f"'{start}cmd()"


@pytest.mark.parametrize("start", ["\t=", "\r=", "\n="])
def test_a_control_character_in_front_of_a_formula_is_shown(start):
    [row] = listed(plate(title=f"{start}1+1"))
    assert row["title"].startswith("\\u00")


@pytest.mark.parametrize("number", ["-5", "+5", "-0.25", "12"])
def test_a_true_number_is_left_alone(number):
    assert cell(number) == number


@pytest.mark.parametrize("almost", ["-5+1", "+5(", "-", "-.5", "+1 mm", "-1e5"])
def test_what_only_looks_like_a_number_is_not_left_alone(almost):
    assert cell(almost) == f"'{almost}"


def test_every_line_has_every_cell_whatever_the_title():
    data = cut_list([plate(title='a,"b"\r\nc;d'), plate(number="PL-102")], {})
    table = list(csv.reader(io.StringIO(data.decode(), newline="")))
    assert [len(line) for line in table] == [len(HEADINGS)] * 3


def test_no_control_character_reaches_the_list_or_the_notes():
    part = plate(title="a\x1b[2J\u202eb\u2028", material="\x07")
    for data in (cut_list([part], {}), vendor_notes([part], {})):
        assert not any(c in data.decode() for c in "\x1b\u202e\u2028\x07")


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_size_that_is_not_finite_never_leaves(bad):
    with pytest.raises(BadInput, match="finite"):
        figure(bad, 3)
    with pytest.raises(BadInput, match="finite"):
        listed(plate(taken=taken(Profile(rectangle(bad, 1.0), outlines=(rectangle(bad, 1.0),)))))


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [(12.0, 3, "12"), (1200.0, 0, "1200"), (0.1239, 3, "0.124"), (-0.0001, 3, "0"), (100.0, 1, "100")],
)
def test_a_figure_is_rounded_and_keeps_its_zeros(value, places, text):
    assert figure(value, places) == text


def test_the_notes_say_net_profile_and_whose_kerf_it_is():
    text = notes(plate())
    assert "net" in text
    assert "kerf" in text


def test_the_notes_certify_no_structure():
    text = notes(plate())
    for words in (
        "does not certify a structure",
        "Loads",
        "lifting",
        "people",
        "local codes",
        "licensed engineer",
    ):
        assert words in text


def test_the_notes_name_every_worked_hole_with_its_drawn_size():
    part = plate(operations=(Operation("H1", "tapped", "M16"), Operation("H2", "countersunk", "90 deg")))
    text = notes(part)
    assert "H1 (drawn 14 mm): tapped M16" in text
    assert "H2 (drawn 14 mm): countersunk 90 deg" in text


def test_a_thread_with_braces_is_only_text():
    assert "tapped {0.x}" in notes(plate(operations=(Operation("H1", "tapped", "{0.x}"),)))


def test_the_notes_give_the_unit_and_the_size_to_check_after_import():
    text = notes(plate(taken=replace(plate().taken, unit="in")), files={"PL-101": NAME})
    assert "numbers in the file are in" in text
    assert "300 x 200 mm" in text
    assert NAME in text


def test_the_notes_say_which_layers_are_not_cut():
    text = notes(plate(taken=taken(bent(plate().profile))))
    assert 'bend lines on layer "BEND"' in text
    assert 'marks on layer "ETCH"' in text


def test_a_part_without_a_drawing_is_for_information():
    assert "site: for information, nothing to cut" in notes(pier())


def test_what_the_job_wrote_for_itself_does_not_leave():
    part = plate(note="ask Bo about the price")
    assert all(b"the price" not in data for data in files_of([part], {"PL-101": DXF}).values())


def test_two_drawings_that_would_have_one_name_are_refused_though_their_numbers_differ():
    first = plate()
    second = plate(number="PL", revision="101-A_S355_12mm_x2", material="", thickness=None, quantity=None)
    with pytest.raises(BadInput, match="would be one file"):
        files_of([first, second], {first.number: DXF, second.number: DXF})


def test_a_sheet_goes_with_its_drawing_and_with_nothing_else():
    files = files_of([plate()], {"PL-101": DXF}, sheets={"PL-101": b"%PDF"})
    assert files["sheets/PL-101-A.pdf"] == b"%PDF"
    with pytest.raises(BadInput, match="a sheet for PIER, which has no drawing"):
        files_of([plate(), pier()], {"PL-101": DXF}, sheets={"PIER": b"%PDF"})


@pytest.mark.parametrize("name", ["../notes.txt", "papers/notes.txt", "con.txt", ""])
def test_a_paper_under_a_name_that_may_not_leave_is_refused(name):
    with pytest.raises(BadInput, match="not a plain file name"):
        contents([plate()], {"PL-101": DXF}, {name: b"note"})


@pytest.mark.parametrize("name", ["MANIFEST.JSON", "pl-101-a_s355_12mm_x2.dxf"])
def test_a_paper_never_takes_the_place_of_a_drawing_or_of_the_manifest(name):
    with pytest.raises(BadInput, match="would be one file"):
        contents([plate()], {"PL-101": DXF}, {name: b"other bytes"})
