"""More verbs of the screens: connections, holes, permits, people, policy, files, and the way back from a fix."""

from __future__ import annotations

import pytest
from bench_job import PASSPHRASE
from test_screens import choose, flat, on_screens, press, rows, settle, shown, write
from textual.widgets import Input, OptionList, Static

from ledger.acts.connections import RequireClearance
from ledger.acts.parts import RecordOperation
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import BadInput
from ledger.words.connections import connection_line, connection_words
from ledger.words.holes import hole_line
from ledger.words.operations import operation_line
from ledger.words.people import person_line, raised_line
from ledger.words.permits import permit_line
from tui.connection_form import ConnectionForm
from tui.connection_screen import ConnectionScreen
from tui.files_screen import FilesScreen
from tui.part_screen import PartScreen
from tui.people_screen import PeopleScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def on_part(bench, number, script, **how):
    async def play(app, pilot):
        app.push_screen(PartScreen(number))
        await settle(pilot)
        await script(app, pilot)

    on_screens(bench.place, play, **how)


def test_a_connection_is_declared_in_one_line_with_a_live_reading(bench):
    bench.plate("ARM")

    async def script(app, pilot):
        await press(pilot, "c")
        box = app.screen.query_one(Input)
        box.value = "ARM to BASE: bolted M12 through, ARM bolts on BASEMENT bolts"
        await pilot.pause()
        assert "no part 'BASEMENT'" in flat(app)
        await press(pilot, "enter")
        assert box.is_attached
        box.value = "ARM to BASE: bolted M12 through, ARM bolts on BASE bolts, either way up"
        await pilot.pause()
        assert "bolted with M12, through; ARM (group bolts, top up) on BASE" in flat(app)
        await press(pilot, "enter")
        assert any("ARM to BASE: bolted through M12" in row for row in rows(app))

    on_part(bench, "ARM", script)
    (made,) = [m for m in bench.job.connections() if m.name == "ARM to BASE"]
    assert (made.joint, made.fastener, made.turned_over) == ("through", "M12", "either")
    assert [(p.part, p.group) for p in made.plies] == [("ARM", "bolts"), ("BASE", "bolts")]


def test_a_connection_is_declared_field_by_field(bench):
    bench.plate("ARM")

    async def script(app, pilot):
        await press(pilot, "c")
        await write(pilot, "")
        assert isinstance(app.screen, ConnectionForm)
        assert any("incomplete: name missing" in row for row in rows(app))
        choose(app, "name")
        await press(pilot, "enter")
        await write(pilot, "ARM-BASE")
        choose(app, "fastener")
        await press(pilot, "enter")
        await write(pilot, "M12")
        assert any("incomplete: second part missing" in row for row in rows(app))
        choose(app, "add a part")
        for way in ("BASE", "group bolts", "bottom up"):
            await press(pilot, "enter")
            choose(app, way)
        await press(pilot, "enter")
        choose(app, "record: ")
        await press(pilot, "enter")
        assert isinstance(app.screen, PartScreen)

    on_part(bench, "ARM", script)
    (made,) = [m for m in bench.job.connections() if m.name == "ARM-BASE"]
    assert (made.plies[1].part, made.plies[1].group, made.plies[1].face_up) == ("BASE", "bolts", "bottom")


def test_a_new_connection_takes_no_name_of_another(bench):
    async def script(app, pilot):
        await press(pilot, "c")
        box = app.screen.query_one(Input)
        box.value = "TURN-BASE: beside, TURN on BASE, gap >= 2 mm"
        await press(pilot, "enter")
        assert "the connection TURN-BASE exists already" in flat(app)
        await write(pilot, "")
        choose(app, "name")
        await press(pilot, "enter")
        app.screen.query_one(Input).value = "TURN-BASE"
        await press(pilot, "enter")
        assert "the connection TURN-BASE exists already" in flat(app)

    on_part(bench, "BASE", script)
    (connection,) = bench.job.connections()
    assert connection.kind == "bolted"


def test_a_declared_connection_is_changed_and_keeps_its_name(bench):
    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        await press(pilot, "c")
        box = app.screen.query_one(Input)
        assert box.value == "TURN-BASE: bolted M12 through, TURN bolts on BASE bolts"
        box.value = box.value.replace("TURN-BASE", "OTHER")
        await press(pilot, "enter")
        assert "the name must stay TURN-BASE" in flat(app)
        await write(pilot, "TURN-BASE: bolted M10 through, TURN bolts on BASE bolts")
        assert isinstance(app.screen, ConnectionScreen)

    on_screens(bench.place, script)
    assert [m.fastener for m in bench.job.connections()] == ["M10"]


def test_a_connection_is_dropped_only_by_its_name_and_a_reason(bench):
    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        await press(pilot, "x")
        await write(pilot, "yes")
        assert "type TURN-BASE" in flat(app)
        await write(pilot, "TURN-BASE")
        await write(pilot, "")
        assert "a reason is required" in flat(app)
        assert len(bench.job.connections()) == 1
        await write(pilot, "welded now")
        assert not isinstance(app.screen, ConnectionScreen)

    on_screens(bench.place, script)
    assert bench.job.connections() == ()


def test_a_part_in_no_connection_offers_to_declare_one_or_to_stand_alone(bench):
    bench.plate("ARM")

    async def script(app, pilot):
        choose(app, "no_connection")
        await press(pilot, "enter")
        assert "ARM is in no connection" in shown(app)
        choose(app, "record a connection")
        await press(pilot, "enter")
        assert "new connection of ARM" in shown(app)
        await press(pilot, "escape")
        assert "no_connection" in rows(app)[app.screen.query_one(OptionList).highlighted]
        await press(pilot, "enter")
        choose(app, "connects to nothing")
        await press(pilot, "enter")
        assert not any("no_connection" in row for row in rows(app))

    on_part(bench, "ARM", script)
    assert bench.job.part("ARM").unconnected


def test_enter_on_a_stop_opens_its_fix_and_escape_is_back_on_the_same_stop(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        for code, words in (
            ("not_measured", "edge of TURN-BASE, measured; expected >= 2 mm"),
            ("question_open", "Q1: which side is up?"),
            ("partner_open", "BASE revision A is open and may change"),
            ("role_missing", "fingerprint"),
        ):
            choose(app, code)
            before = app.screen.query_one(OptionList).highlighted
            await press(pilot, "enter")
            assert words in flat(app)
            await press(pilot, "escape")
            assert isinstance(app.screen, PartScreen)
            assert app.screen.query_one(OptionList).highlighted == before

    on_part(bench, "TURN", script, size=(120, 40))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_enter_on_what_is_found_in_a_connection_opens_what_fixes_it(bench, size):
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")

    async def script(app, pilot):
        choose(app, "partner_open")
        await press(pilot, "enter", "end", "enter")
        at = app.screen.query_one(OptionList).highlighted
        assert "BASE revision A is open and may change" in rows(app)[at]
        assert "BASE revision A is open and may change" in flat(app)
        await press(pilot, "enter")
        assert app.screen.number == "BASE"
        await press(pilot, "escape")
        for code, words in (
            ("not_measured", "edge of TURN-BASE, measured"),
            ("bolt_required", "bolts of TURN-BASE"),
        ):
            choose(app, code)
            await press(pilot, "enter")
            assert words in flat(app)
            await press(pilot, "escape")

    on_part(bench, "TURN", script, size=size)


def test_enter_on_a_connection_opens_it_at_once(bench):
    async def script(app, pilot):
        choose(app, "TURN-BASE: bolted")
        await press(pilot, "enter")
        assert isinstance(app.screen, ConnectionScreen)

    on_part(bench, "TURN", script)


def test_a_hole_under_the_cursor_is_given_its_finish(bench):
    async def script(app, pilot):
        choose(app, "H2    hole")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == "H2: "
        app.screen.query_one(Input).value = "H2: tapped"
        await press(pilot, "enter")
        assert "thread missing" in flat(app)
        await write(pilot, "H2: tapped M12")
        assert any("H2" in row and "tapped M12" in row for row in rows(app))
        choose(app, "H2    hole")
        await press(pilot, "o")
        assert app.screen.query_one(Input).value == "H2: tapped M12"

    on_part(bench, "TURN", script)
    (made,) = bench.job.part("TURN").operations
    assert (made.label, made.operation, made.thread) == ("H2", "tapped", "M12")


def test_a_stud_of_the_structure_is_recorded_and_written_anew(bench):
    bench.job.write_part("PIER", {"form": "site", "title": "pier top"}, by="Mira")

    async def script(app, pilot):
        await press(pilot, "h")
        await write(pilot, "S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm")
        choose(app, "S1    hole")
        await press(pilot, "enter")
        box = app.screen.query_one(Input)
        assert box.value == "S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured"
        await write(pilot, box.value.replace("150", "151"))

    on_part(bench, "PIER", script)
    (made,) = bench.job.part("PIER").measured_holes
    assert made.hole.centre == (151.0, -20.0)


def test_a_drawn_part_takes_no_measured_holes(bench):
    async def script(app, pilot):
        await press(pilot, "h")
        assert "its holes come from its drawing" in flat(app)

    on_part(bench, "TURN", script)


def test_a_permit_takes_a_reason_a_person_a_yes_and_a_passphrase(bench):
    async def script(app, pilot):
        choose(app, "partner_open")
        await press(pilot, "p")
        await write(pilot, "the base is cut already, until 2099-06-30")
        choose(app, "Jonas signs")
        await press(pilot, "enter")
        assert "Jonas permits partner_open [TURN-BASE/BASE] on BASE A and TURN A" in flat(app)
        assert "through 2099-06-30" in flat(app)
        await press(pilot, "tab", "enter")
        await write(pilot, PASSPHRASE)
        assert any("by Jonas, until 2099-06-30, BASE A and TURN A (in force)" in row for row in rows(app))
        assert not any("STOP partner_open" in row for row in rows(app))

    on_part(bench, "TURN", script)
    (permit,) = bench.job.permits("TURN")
    assert (permit.person, permit.until, permit.sound) == ("Jonas", "2099-06-30", True)


def test_a_permit_of_a_connection_names_both_parts_and_is_withdrawn_at_either(bench):
    bench.job.permit("TURN", "Jonas", code="partner_open", place="TURN-BASE/BASE", reason="cut already")

    async def script(app, pilot):
        choose(app, "partner_open [TURN-BASE/BASE] by Jonas")
        assert any("BASE A and TURN A (in force, covers no finding)" in row for row in rows(app))
        await press(pilot, "x")
        await write(pilot, "the base was lost")
        choose(app, "Mira signs")
        await press(pilot, "enter")
        await write(pilot, PASSPHRASE)
        assert any("BASE A and TURN A (withdrawn by Mira: the base was lost)" in row for row in rows(app))

    on_part(bench, "BASE", script)
    (permit,) = bench.job.permits("TURN")
    assert permit.withdrawn
    assert "partner_open" in bench.codes("TURN")


def test_a_permit_left_at_the_yes_is_not_written(bench):
    async def script(app, pilot):
        choose(app, "partner_open")
        await press(pilot, "p")
        await write(pilot, "because")
        await press(pilot, "enter")
        await press(pilot, "enter")
        assert isinstance(app.screen, PartScreen)

    on_part(bench, "TURN", script)
    assert bench.job.permits("TURN") == ()


def test_what_the_gate_takes_no_permit_for_is_not_permitted(bench):
    async def script(app, pilot):
        choose(app, "role_missing")
        await press(pilot, "p")
        assert "role_missing cannot be permitted" in flat(app)
        assert isinstance(app.screen, PartScreen)

    on_part(bench, "TURN", script)


async def keeper_signs(app, pilot):
    """The only keeper's passphrase, which is asked for once a sitting."""
    app.screen.query_one("#passphrase", Input).value = PASSPHRASE
    await press(pilot, "enter")


def test_a_person_is_enrolled_in_chosen_roles_after_a_yes(bench):
    async def script(app, pilot):
        await press(pilot, "P")
        assert isinstance(app.screen, PeopleScreen)
        assert any("Mira: drawn, checked, approved, keeper; key" in row for row in rows(app))
        await press(pilot, "n")
        await write(pilot, "Mira: drawn")
        assert "Mira is enrolled already" in flat(app)
        await write(pilot, "Ada: checked, approved")
        assert "enroll Ada as checked, approved" in flat(app)
        await press(pilot, "tab", "enter")
        app.screen.query_one("#passphrase", Input).value = "one more horse"
        await press(pilot, "enter")
        app.screen.query_one("#again", Input).value = "one more horse"
        await press(pilot, "enter")
        await keeper_signs(app, pilot)
        assert "Ada enrolled as checked, approved" in flat(app)

    on_screens(bench.place, script)
    assert {n: r for n, r, _ in bench.job.people()}["Ada"] == ("checked", "approved")


def test_the_policy_is_set_after_a_yes(bench):
    async def script(app, pilot):
        app.push_screen(PeopleScreen())
        await settle(pilot)
        choose(app, "required signatures")
        await press(pilot, "enter")
        await write(pilot, "drawn, checked, approved")
        assert "signatures made under another policy become void" in flat(app)
        await press(pilot, "tab", "enter")
        await keeper_signs(app, pilot)
        choose(app, "warnings that stop")
        await press(pilot, "enter")
        app.screen.query_one(Input).value = "unmatchd"
        await press(pilot, "enter")
        assert "no code 'unmatchd'" in flat(app)
        await write(pilot, "unmatched")
        await press(pilot, "tab", "enter")
        assert any("warnings that stop: unmatched" in row for row in rows(app))
        choose(app, "odds required")
        await press(pilot, "enter")
        app.screen.query_one(Input).value = "100"
        await press(pilot, "enter")
        assert "50 to 99.9" in flat(app)
        await write(pilot, "99.5")
        await press(pilot, "tab", "enter")
        assert any("odds required of holes: 99.5 %" in row for row in rows(app))

    on_screens(bench.place, script)
    policy = bench.job.policy()
    assert (policy.roles, policy.raised) == (("drawn", "checked", "approved"), ("unmatched",))
    assert policy.odds == "99.5"


def test_a_paper_is_not_written_over_without_a_yes(bench):
    there = bench.folder / "TURN.svg"
    there.write_text("mine")

    async def script(app, pilot):
        await press(pilot, "w")
        assert isinstance(app.screen, FilesScreen)
        choose(app, "picture (SVG")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == str(there)
        assert "fitup asks before overwriting it" in flat(app)
        await press(pilot, "enter", "enter")
        assert there.read_text() == "mine"
        await press(pilot, "enter", "enter")
        await press(pilot, "tab", "enter")
        assert "written:" in flat(app)
        assert "<svg" in there.read_text()
        await press(pilot, "enter")
        await write(pilot, str(there.with_suffix(".gif")))
        assert "expected a name that ends in .svg, .png" in flat(app)
        await press(pilot, "enter")
        await write(pilot, str(there.with_suffix(".png")))
        assert there.with_suffix(".png").read_bytes().startswith(b"\x89PNG")

    on_part(bench, "TURN", script)


def test_the_packet_of_a_locked_part_is_handed_out_again(bench):
    made = bench.lock("BASE", "TURN")
    again = bench.folder / "again"

    async def script(app, pilot):
        assert any("A (locked): first revision" in row for row in rows(app))
        await press(pilot, "w")
        choose(app, "packet of the locked revision A")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == str(again)
        await press(pilot, "enter")
        await settle(pilot)
        assert "packet:" in flat(app)
        await press(pilot, "enter", "enter")
        await settle(pilot)
        assert "exists already; name another folder" in flat(app)

    on_part(bench, "BASE", script)
    assert (again / made.packet.name).read_bytes() == made.packet.read_bytes()


def test_a_sheet_and_a_job_record_are_written(bench):
    bench.lock("BASE", "TURN")

    async def script(app, pilot):
        await press(pilot, "w")
        for words in ("vendor sheet", "job record of revision A"):
            choose(app, words)
            await press(pilot, "enter", "enter")
            await settle(pilot)
            assert "written:" in str(app.screen.query_one("#told", Static).render())

    on_part(bench, "BASE", script)
    for name in ("BASE-sheet.pdf", "BASE-A-record.pdf"):
        assert (bench.folder / name).read_bytes().startswith(b"%PDF")


def test_the_line_of_a_connection_says_the_same_connection_again(bench):
    for line in (
        "A to B: bolted 1/2-13 captive nut, TURN bolts bottom on BASE bolts, turned over, at 10 0 90",
        "A to B: beside, TURN on BASE, gap >= 2 mm",
        "A to B: tab and slot, TURN edge on BASE",
        "A to B: bolted M12 through, TURN on BASE, at pins, also M6 dowel bolts on bolts",
        "A to B: bolted M12 through, TURN bolts on BASE bolts, at left on left and bottom on top",
    ):
        fields = connection_line(line, ("TURN", "BASE")).fields
        bench.connection(**fields)
        (made,) = [m for m in bench.job.connections() if m.name == "A to B"]
        assert connection_words(made) == line


@pytest.mark.parametrize(
    ("read", "line"),
    [
        (lambda t: connection_line(t, ("A", "B")), "M: bolted M12, A on B"),
        (lambda t: connection_line(t, ("A", "B")), "M: bolted M12 through, A"),
        (lambda t: connection_line(t, ("A", "B")), "M: beside M12, A on B"),
        (lambda t: connection_line(t, ("A", "B")), "M: bolted M12 through, A on B, at left"),
        (lambda t: connection_line(t, ("A", "B")), "M: bolted M12 through, A on B, also M6 PINS on PINS"),
        (lambda t: connection_line(t, ("A", "B")), "M: beside, A on B, also M6 dowel PINS on PINS"),
        (lambda t: connection_line(t, ("A", "B")), "M: glued, A on B"),
        (operation_line, "H1: polished"),
        (operation_line, ": plain"),
        (hole_line, "S1 = 1 mm, 2 mm, 3 mm"),
        (hole_line, "S1 = 1, 2 mm, 3 mm, ±1 mm"),
        (permit_line, "because, until tomorrow"),
        (permit_line, "because, until 2026-02-30"),
        (permit_line, "because, until 20260228"),
        (lambda t: permit_line(t, "2026-03-02"), "because, until 2026-03-01"),
        (permit_line, " "),
        (person_line, "Ada: boss"),
        (person_line, "Ada"),
        (lambda t: raised_line(t, ("unmatched",)), "offset"),
    ],
)
def test_a_line_that_does_not_read_is_refused(read, line):
    with pytest.raises(BadInput):
        read(line)


def test_a_group_that_is_gone_offers_its_two_fixes(bench):
    bench.do(RecordOperation, number="TURN", labels=("H1",), operation="plain")
    bench.plate("ARM")
    bench.connection(
        "ARM-BASE", plies=({"part": "ARM", "group": "bolts"}, {"part": "BASE", "group": "bolts"})
    )
    bench.job.take_profile("ARM", "ARM.dxf", _one_hole_less(), by="Mira")

    async def script(app, pilot):
        choose(app, "group_incomplete")
        await press(pilot, "enter")
        assert "edit hole group bolts of ARM" in flat(app)
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value.startswith("bolts = H1")

    on_part(bench, "ARM", script)


def _one_hole_less():
    from bench_job import CORNERS, plate_dxf

    return plate_dxf(CORNERS[:3])


def test_what_is_under_the_cursor_is_dropped_with_a_reason(bench):
    bench.do(RecordOperation, number="BASE", labels=("H1",), operation="plain")

    async def script(app, pilot):
        choose(app, "H1    hole")
        await press(pilot, "x")
        assert "reason for removing the operation H1" in flat(app)
        await write(pilot, "not meant")
        choose(app, "H1    hole")
        await press(pilot, "x")
        assert "comes from the drawing" in flat(app)
        choose(app, "bolts:")
        await press(pilot, "x")
        await write(pilot, "not meant")
        assert "named by connection TURN-BASE" in flat(app)

    on_part(bench, "BASE", script)
    assert bench.job.part("BASE").operations == ()


def test_a_clearance_under_the_cursor_is_dropped_and_not_its_connection(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")

    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        choose(app, "clearance gap")
        await press(pilot, "x")
        await write(pilot, "it is a weld")

    on_part(bench, "BASE", script)
    (connection,) = bench.job.connections()
    assert connection.clearances == ()


def test_a_template_is_written_at_full_size_and_what_came_of_it_recorded(bench):
    out = bench.folder / "turn-back.pdf"

    async def script(app, pilot):
        await press(pilot, "W")
        await write(pilot, "does not fit: S2 is 4 mm off")
        await press(pilot, "w")
        choose(app, "template at full size on A4, turned over")
        await press(pilot, "enter")
        app.screen.query_one(Input).value = ""
        await write(pilot, str(out))

    on_part(bench, "TURN", script)
    assert out.read_bytes() == bench.job.template("TURN", turned_over=True).data
    assert [t.note for t in bench.job.part("TURN").trials] == ["S2 is 4 mm off"]
