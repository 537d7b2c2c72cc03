"""What the screens are made of: the list of actions, fixes, signs, one-line entries and the raster."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from ledger.checks import all_checks
from ledger.domain.connection import CONNECTION_KINDS, HOLES_MADE, JOINTS, WELD_SIDES
from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.domain.plates import plate_drawing
from ledger.domain.record import FORMS, OPERATIONS, SOURCES
from ledger.domain.shape import Contour, Hole
from ledger.fit.case import Fit
from ledger.standards.weld_classes import CLASSES
from ledger.words.clearances import clearance_line, reading_line
from ledger.words.connections import TURNED_OVER_WORDS, connection_line
from ledger.words.dimensions import dimension_line
from ledger.words.groups import group_line
from ledger.words.operations import operation_line
from ledger.words.parts import field_value, part_line
from tui.actions import ACTIONS, actions_at, keys_table
from tui.fixes import KIND_OF, connection_in, fix_for
from tui.picture import layers_of, marks_of
from tui.raster import Layer, Mark, Room, View, grid, paint, whole
from tui.signs import PLAIN, RICH, said, signs_for

SQUARE = Contour(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 10.0, 0.0), (0.0, 10.0, 0.0)))
GATE_CODES = ("role_missing", "unacknowledged", "not_run", "check_failed", "no_checks", "lock_unsigned")


def test_every_code_that_a_check_or_the_gate_gives_has_a_fix():
    codes = {code for check in all_checks() for code in check.codes} | set(GATE_CODES)
    assert codes - set(KIND_OF) == set()


def test_no_fix_is_kept_for_a_code_that_nothing_gives():
    codes = {code for check in all_checks() for code in check.codes} | set(GATE_CODES)
    assert set(KIND_OF) - codes == set()


def test_a_finding_inside_a_connection_is_fixed_at_the_connection():
    fix = fix_for(Finding("offset", "out", where="A-B/A/H5"), ["A-B", "A"])
    assert (fix.kind, fix.name, fix.place) == ("connection", "A-B", "A-B/A/H5")


def test_the_longest_connection_that_a_place_begins_with_counts():
    assert connection_in("A/B/C", ["A", "A/B"]) == "A/B"
    assert connection_in("AB/C", ["A"]) == ""


def test_a_missing_material_is_fixed_in_its_field():
    assert fix_for(Finding("material_missing", "", where="material"), []).name == "material"


def test_a_part_in_no_connection_is_asked_which_way_it_goes():
    assert fix_for(Finding("no_connection", "", where="BASE"), []).kind == "no connection"


def test_a_reading_is_taken_and_a_joint_declared_where_the_stop_stands():
    reading = fix_for(Finding("not_measured", "", where="A-B/edge"), ["A-B"])
    assert (reading.kind, reading.name, reading.place) == ("reading", "A-B", "edge")
    assert fix_for(Finding("joint_missing", "", where="A-B/joint"), ["A-B"]).kind == "record"


def test_every_name_of_a_choice_reads_in_a_line_be_it_of_one_word_or_of_several():
    kinds = {kind: "bolted M12 through" if kind == "bolted" else kind for kind in CONNECTION_KINDS}
    lines = [("connection_kind", kind, f"{how}, A on B") for kind, how in kinds.items()]
    lines += [("joint", joint, f"bolted M12 {joint}, A on B") for joint in JOINTS]
    lines += [("turned_over", over, f"beside, A on B, {words}") for over, words in TURNED_OVER_WORDS.items()]
    lines += [("weld_side", side, f"welded, A on B, {side}") for side in WELD_SIDES]
    lines += [("weld_class", grade, f"welded, A on B, weld class {grade}") for grade in CLASSES]
    lines += [("holes_made", made, f"welded, A on B, holes {made}") for made in HOLES_MADE]
    for field, value, line in lines:
        assert connection_line(f"M: {line}", ("A", "B")).fields[field] == value
    for joint in JOINTS:
        (also,) = connection_line(
            f"M: bolted M12 through, A on B, also M6 {joint} P on Q", ("A", "B")
        ).fields["also"]
        assert (also["fastener"], also["joint"], also["groups"]) == ("M6", joint, ("P", "Q"))
    for operation in OPERATIONS:
        fields = operation_line(f"H1 H2: {operation} M8").fields
        assert (fields["operation"], fields["thread"], fields["labels"]) == (operation, "M8", ("H1", "H2"))
    for form in FORMS:
        assert part_line(f"ARM-L {form} Fork arm, left").fields["form"] == form
    for source in SOURCES:
        with_what = " caliper" if source == "measured" else ""
        assert dimension_line(f"w = 200 mm, {source}{with_what}").fields["source"] == source


@pytest.mark.parametrize("where", sorted({a.where for a in ACTIONS}))
def test_no_key_of_a_screen_means_two_things(where):
    keys = [a.key for a in actions_at(where)]
    assert len(keys) == len(set(keys))


def test_every_action_is_a_verb_of_its_screen():
    from tui.app import Fitup
    from tui.changes_screen import ChangesScreen
    from tui.connection_form import ConnectionForm
    from tui.connection_screen import ConnectionScreen
    from tui.custody_screen import KeepingScreen
    from tui.files_screen import FilesScreen
    from tui.instruments_screen import InstrumentsScreen
    from tui.job_text_screen import JobTextScreen
    from tui.journal_screen import JournalScreen
    from tui.lock_screen import LockScreen
    from tui.orders_screen import OrdersScreen
    from tui.part_screen import PartScreen
    from tui.parts_screen import PartsScreen
    from tui.people_screen import PeopleScreen
    from tui.sign_screen import SignScreen
    from tui.start_screen import StartScreen
    from tui.table_screen import TableScreen

    screens = (
        ChangesScreen,
        JobTextScreen,
        TableScreen,
        *(PartsScreen, PartScreen, ConnectionScreen, SignScreen, LockScreen, JournalScreen, StartScreen),
        *(PeopleScreen, FilesScreen, KeepingScreen, ConnectionForm, InstrumentsScreen, OrdersScreen),
    )
    owners = {"everywhere": Fitup, **{s.WHERE: s for s in screens}}
    missing = [a for a in ACTIONS if not hasattr(owners[a.where], f"action_{a.name.partition('(')[0]}")]
    assert missing == []


def test_the_table_of_keys_has_a_row_for_every_action():
    assert len(keys_table().splitlines()) == len(ACTIONS) + 2
    assert "| everywhere | `Ctrl+Q` | Quit |" in keys_table()


@pytest.mark.parametrize(
    ("environ", "signs"),
    [
        ({"LANG": "en_GB.UTF-8"}, RICH),
        ({"LC_CTYPE": "C.UTF-8"}, RICH),
        ({}, RICH),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, PLAIN),
        ({"LC_ALL": "en_US.ISO-8859-1", "LANG": "en_GB.UTF-8"}, PLAIN),
        ({"LANG": "en_GB.UTF-8", "TERM": "linux"}, PLAIN),
    ],
)
def test_signs_follow_the_locale_and_the_terminal(environ, signs):
    assert signs_for(environ) is signs


def test_text_from_data_has_no_escape_in_it():
    assert said("a\x1b[31mb\u202e").plain == "a\\u001b[31mb\\u202e"


def test_a_dimension_line_reads_nominal_limits_source_and_binding():
    line = dimension_line("width = 200 mm ±0.2, measured ±0.05 mm caliper, on width, critical")
    assert line.fields == {
        "name": "width",
        "nominal": "200 mm",
        "limits": "±0.2",
        "source": "measured",
        "instrument": "caliper",
        "uncertainty": "0.05 mm",
        "measured_on": "width",
        "frozen": False,
        "critical": True,
    }


@pytest.mark.parametrize(
    ("text", "nominal", "limits"),
    [
        ("a = 1-1/2 in", "1-1/2 in", ""),
        ("a = 10 mm +0.2/-0.1", "10 mm", "+0.2/-0.1"),
        ("a = 10 mm min", "10 mm", "min"),
        ("a = 10 mm 9.9..10.1", "10 mm", "9.9..10.1"),
        ("a = 10 mm±0.1", "10 mm", "±0.1"),
        ("a = 12H7", "12 mm", "H7"),
    ],
)
def test_nominal_and_limits_are_told_apart(text, nominal, limits):
    fields = dimension_line(text).fields
    assert (fields["nominal"], fields["limits"]) == (nominal, limits)


@pytest.mark.parametrize(
    ("text", "formula", "limits"),
    [
        ("half = width/2, calculated", "width/2", ""),
        ("half = width/2 + 3/16 in ±0.1, calculated", "width/2 + 3/16 in", "±0.1"),
        ("half = 2*width + 3/16 in +0.2/-0.1, calculated, on width", "2*width + 3/16 in", "+0.2/-0.1"),
        ("half = width - 2 mm min, calculated", "width - 2 mm", "min"),
        ("half = width/2 H7, calculated, frozen", "width/2", "H7"),
        ("half = H7*2, calculated", "H7*2", ""),
        ("half = 2*H7 of BASE, calculated", "2*H7 of BASE", ""),
    ],
)
def test_a_formula_and_its_limits_are_told_apart_and_said_again(text, formula, limits):
    fields = dimension_line(text).fields
    assert (fields["nominal"], fields["limits"], fields["source"]) == (formula, limits, "calculated")


@pytest.mark.parametrize("text", ["", "width", "= 3 mm", "a = 3 furlong", "a = 3 mm ±x", "a = 3 mm, guessed"])
def test_a_dimension_line_that_cannot_be_read_is_refused(text):
    with pytest.raises(BadInput):
        dimension_line(text)


def test_other_lines_are_read_or_refused():
    assert clearance_line("arm to cover: >= 3 mm critical").fields["critical"] is True
    assert group_line("bolts = H1, H2 H3").fields["labels"] == ("H1", "H2", "H3")
    assert part_line("ARM-L cut Fork arm, left").fields["title"] == "Fork arm, left"
    assert field_value("unconnected", "yes").fields == {"unconnected": True}
    assert "1.8 mm" in reading_line("1.8 ±0.1 mm feeler")
    for read, text in (
        (clearance_line, "arm"),
        (group_line, "bolts ="),
        (part_line, "ARM plate"),
        (reading_line, "1.8 ±0.1 mm"),
    ):
        with pytest.raises(BadInput):
            read(text)
    with pytest.raises(BadInput):
        field_value("quantity", "0")


def test_a_square_is_drawn_as_its_four_sides():
    room = Room(12, 12, braille=False)
    dots = grid(Layer((SQUARE,)), View((5.0, 5.0), 1.0), room)
    assert dots[3].sum() == 11
    assert dots[5].nonzero()[0].tolist() == [1, 11]
    assert dots[0].sum() == 0


def test_a_picture_far_closer_than_its_plate_is_drawn_without_leaving_the_room():
    dots = grid(Layer((SQUARE,)), View((0.0, 5.0), 1e-4), Room(40, 20))
    assert dots[:, 40].all()
    assert dots.sum() == dots.shape[0]


def test_a_hole_of_each_plate_stays_visible_where_both_share_a_cell():
    room = Room(20, 10)
    first = Layer((Hole("H1", ((0.0, 0.0),), 6.0).contour(),))
    second = Layer((Hole("H1", ((0.5, 0.0),), 6.0).contour(),))
    view = View((0.0, 0.0), 0.25)
    lone = "\n".join(r.text for r in paint([first], [], view, room))
    both = "\n".join(r.text for r in paint([first, second], [], view, room))
    for one, two in zip(lone, both, strict=True):
        if one not in " \n":
            assert ord(two) & ord(one) & 0xFF == ord(one) & 0xFF


def test_a_dashed_plate_is_told_from_a_whole_one_without_colour():
    room, view = Room(20, 10), View((5.0, 5.0), 0.5)
    solid = grid(Layer((SQUARE,)), view, room).sum()
    dashed = grid(Layer((SQUARE,), dashed=True), view, room).sum()
    opened = grid(Layer((SQUARE,), closed=False), view, room).sum()
    assert opened < solid
    assert 0.35 * solid < dashed < 0.75 * solid


def test_marks_lie_on_top_at_their_place():
    room = Room(11, 11, braille=False)
    rows = paint([Layer((SQUARE,))], [Mark((5.0, 5.0), "x1")], View((5.0, 5.0), 1.0), room)
    assert rows[5].text[5:7] == "x1"


def test_the_whole_picture_lies_in_its_room():
    view, room = whole([SQUARE.box], Room(30, 10)), Room(30, 10)
    dots = grid(Layer((SQUARE,)), view, room)
    assert dots.any()
    rim = (dots[0], dots[-1], dots[:, 0], dots[:, -1])
    assert [edge.any() for edge in rim] == [False] * 4


def test_nothing_to_draw_and_no_room_give_no_rows():
    assert paint([], [], whole([], Room(0, 0)), Room(0, 0)) == []
    assert [r.text for r in paint([], [], View((0.0, 0.0), 1.0), Room(3, 1))] == ["   "]


def test_the_view_of_a_connection_carries_its_fit(bench):
    view = bench.job.connection_view("TURN-BASE")
    assert isinstance(view.fit, Fit)
    assert [p.part.number for p in view.plies] == ["TURN", "BASE"]
    assert view.pose == view.fit.pose
    assert {f.code for f in view.findings} >= {"partner_open", "fits"}
    assert Counter(line.role for line in view.drawing.lines) == {"upper": 5, "lower": 5}
    assert {label.text for label in view.drawing.labels} == {"H1", "H2", "H3", "H4"}
    assert all(p.outline for p in view.profiles)


def test_a_mark_brings_no_escape_to_the_terminal():
    room, view = Room(30, 3, braille=False), View((0.0, 0.0), 1.0)
    (row,) = [r.text for r in paint([], [Mark((0.0, 0.0), "H\x1b[31m1")], view, room) if r.text.strip()]
    assert "\x1b" not in row
    assert "H" in row


@pytest.mark.parametrize("mm_per_dot", [0.5, 1.0, 1.7, 2.3, 3.1])
@pytest.mark.parametrize("braille", [True, False])
def test_a_label_in_a_terminal_lies_over_no_ring_and_over_no_other_label(mm_per_dot, braille):
    holes = tuple(Hole(f"H{k}", ((9.0 * (k % 5), 11.0 * (k // 5)),), 6.0) for k in range(15))
    drawing = plate_drawing(None, holes)
    room, view = Room(60, 30, braille), View((18.0, 11.0), mm_per_dot)
    bare = [row.text for row in paint(layers_of(drawing, lambda _role: ""), [], view, room)]
    full = [row.text for row in paint(layers_of(drawing, lambda _role: ""), marks_of(drawing), view, room)]
    covered = [
        (a, b) for one, two in zip(bare, full, strict=True) for a, b in zip(one, two, strict=True) if a != b
    ]
    assert all(a == " " for a, _ in covered)
    words = re.findall(r"H\d+", " ".join(full))
    assert len(set(words)) == len(words)
    assert set(words) <= {hole.label for hole in holes}
    assert len(words) == 15 or mm_per_dot > 1


def test_the_chosen_label_is_shown_however_small_the_picture():
    holes = tuple(Hole(f"H{k}", ((2.0 * k, 0.0),), 1.9) for k in range(9))
    drawing = plate_drawing(None, holes)
    rows = paint(
        layers_of(drawing, lambda _role: ""), marks_of(drawing, "H4"), View((8.0, 0.0), 0.5), Room(30, 5)
    )
    assert re.findall(r"H\d", " ".join(row.text for row in rows)) == ["H4"]


def test_every_row_of_a_picture_is_as_wide_as_its_room_whatever_the_marks_hold():
    rows = paint([Layer((SQUARE,))], [Mark((5.0, 5.0), "穴1")], View((5.0, 5.0), 1.0), Room(11, 11))
    assert {row.cell_length for row in rows} == {11}
