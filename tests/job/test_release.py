"""What must hold from the first entry to a locked packet, on a real database and real files."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import zipfile
from datetime import UTC, datetime

import pytest
from bench_job import CORNERS, PASSPHRASE, PLATE, Bench, plate_dxf

from ledger.acts import ACTS
from ledger.acts.base import make
from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup, NewRevision
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.cli import main
from ledger.domain.errors import BadInput, NotReleasable, UnknownName
from ledger.job import Job
from ledger.packet.build import stage_packet
from ledger.packet.inspect import inspect

BOTH = ("BASE", "TURN")


def subjects(bench):
    return {v.part: v.subject for v in bench.job.verdicts(BOTH)}


@pytest.mark.both
def test_a_set_that_fits_and_is_signed_locks_and_its_packet_verifies(bench):
    made = bench.lock(*BOTH)
    report = inspect(made.packet.read_bytes())
    assert report.ok
    assert bench.job.holds(report.seal)
    assert {p.number for p in report.parts} == {"BASE", "TURN"}
    assert sorted(f.name for f in made.folder.iterdir()) == [
        "BASE-A_S275_10mm_x2.dxf",
        "TURN-A_S275_10mm_x2.dxf",
    ]
    assert (made.folder / "BASE-A_S275_10mm_x2.dxf").read_bytes() == plate_dxf()
    assert bench.job.verify() == ()


def test_nothing_locks_unsigned(bench):
    with pytest.raises(NotReleasable):
        bench.job.lock(BOTH, "Mira", bench.folder / "out")
    assert list((bench.folder / "out").iterdir()) == []
    assert not bench.job.part("BASE").locked


def test_a_part_whose_connection_is_open_and_not_in_the_set_does_not_lock(bench):
    bench.sign_all("TURN")
    with pytest.raises(NotReleasable) as refusal:
        bench.job.lock(["TURN"], "Jonas", bench.folder / "out")
    assert {s.code for s in refusal.value.verdicts[0].stops} == {"partner_open"}


def test_a_frozen_face_lets_one_part_go_and_then_stops_a_change_of_the_other(bench):
    bench.job.freeze("TURN-BASE", "BASE", by="Mira")
    bench.lock("TURN")
    bench.job.write_part("BASE", {"thickness": "12 mm"}, by="Mira")
    assert "interface_changed" in bench.codes("BASE")


def test_a_hole_out_of_place_is_named_and_nothing_can_be_signed(bench):
    moved = ((24.0, 20.0), *CORNERS[1:])
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf(moved), by="Mira")
    assert "offset" in bench.codes("TURN")
    with pytest.raises(NotReleasable):
        bench.job.sign(["TURN"], "drawn", "Mira", {})


@pytest.mark.parametrize(
    "change",
    [
        lambda b: b.job.write_part("BASE", {"note": "deburr the edges"}, by="Mira"),
        lambda b: b.do(NameGroup, number="BASE", name="left pair", labels=("H1",)),
        lambda b: b.do(AskQuestion, number="BASE", ident="Q1", text="Which primer?"),
    ],
    ids=["a note on B", "another group on B", "a question on B"],
)
def test_what_is_only_bs_business_leaves_as_sign_offs_standing(bench, change):
    before = subjects(bench)
    change(bench)
    after = subjects(bench)
    assert after["TURN"] == before["TURN"]
    assert after["BASE"] != before["BASE"]


def test_a_new_letter_on_b_leaves_as_sign_offs_standing(bench):
    before = subjects(bench)["TURN"]
    bench.job.freeze("TURN-BASE", "TURN", by="Mira")
    frozen = subjects(bench)["TURN"]
    bench.lock("BASE")
    bench.do(NewRevision, number="BASE", reason="countersink the corner holes")
    assert frozen != before
    assert subjects(bench)["TURN"] == frozen


@pytest.mark.parametrize(
    "change",
    [
        lambda b: b.job.take_profile("BASE", "BASE.dxf", plate_dxf(width=201.0), by="Mira"),
        lambda b: b.job.write_part("BASE", {"thickness": "12 mm"}, by="Mira"),
        lambda b: b.job.take_profile("BASE", "BASE.dxf", plate_dxf(diameter=14.0), by="Mira"),
        lambda b: b.job.write_part("BASE", {"material": "6061-T6"}, by="Mira"),
    ],
    ids=["B's outline", "B's thickness", "B's mating holes", "B's material, which edge distances read"],
)
def test_what_the_connection_reads_of_b_voids_as_sign_offs(bench, change):
    bench.sign_all(*BOTH)
    assert "role_missing" not in bench.codes("TURN")
    change(bench)
    assert "role_missing" in bench.codes("TURN")


def test_two_parts_that_connect_to_each_other_are_no_circle(bench):
    assert subjects(bench) == subjects(bench)
    assert len(set(subjects(bench).values())) == 2


def test_the_policy_is_part_of_what_was_signed(bench):
    bench.sign_all(*BOTH)
    bench.policy(roles=("drawn", "checked", "approved"))
    assert "role_missing" in bench.codes("BASE")


def test_whoever_drew_it_does_not_count_as_the_checker(bench):
    bench.job.sign(["BASE"], "drawn", "Mira", {})
    bench.job.sign(["BASE"], "checked", "Mira", {})
    assert "role_missing" in bench.codes("BASE")


def test_one_person_alone_checks_by_typing_two_dimensions_again(tmp_path, clock):
    bench = Bench.started(tmp_path, clock, people=("Mira",))
    bench.two_plates()
    with pytest.raises(BadInput, match="types two key dimensions again"):
        bench.job.sign(BOTH, "checked", "Mira", {})
    with pytest.raises(BadInput, match="does not agree") as refusal:
        bench.job.sign(BOTH, "checked", "Mira", {"BASE/width": "201 mm", "BASE/height": "100 mm"})
    assert "200" not in str(refusal.value)
    bench.job.sign(BOTH, "checked", "Mira", {"BASE/width": "200.1 mm", "BASE/height": "100 mm"})
    assert all(v.go for v in bench.job.verdicts(BOTH))
    bench.job.close()


@pytest.mark.both
def test_a_locked_revision_never_changes_and_a_new_one_starts_from_it(bench):
    bench.lock(*BOTH)
    with pytest.raises(BadInput, match="locked and never changes"):
        bench.job.write_part("BASE", {"thickness": "12 mm"}, by="Mira")
    bench.do(NewRevision, number="BASE", reason="thicker")
    assert (bench.job.part("BASE").revision, bench.job.part("BASE").locked) == ("B", False)
    assert bench.job.part("BASE").dimensions[0].nominal.written == "100 mm"
    assert bench.job.verdicts(["TURN"])[0].go


def test_a_held_dimension_that_changed_stops_the_next_revision(bench):
    width = {"number": "BASE", "name": "width", "limits": "±0.2", "measured_on": "width", "frozen": True}
    bench.do(RecordDimension, nominal="200 mm", **width)
    bench.lock(*BOTH)
    bench.do(NewRevision, number="BASE", reason="wider")
    bench.do(RecordDimension, nominal="210 mm", **width)
    assert "frozen_changed" in bench.codes("BASE")


def test_an_open_question_stops_until_it_is_answered(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="Which primer?")
    assert "question_open" in bench.codes("BASE")
    bench.do(AnswerQuestion, number="BASE", ident="Q1", answer="zinc phosphate")
    assert "question_open" not in bench.codes("BASE")


def test_a_measured_clearance_speaks_of_the_faces_it_was_measured_against(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="rim", required=">= 2 mm")
    assert "not_measured" in bench.codes("BASE")
    bench.job.measure("TURN-BASE", "rim", "2.5 ±0.1 mm feeler", by="Jonas")
    assert bench.codes("BASE").isdisjoint({"not_measured", "clearance_missed", "measured_on_other"})
    bench.job.write_part("TURN", {"thickness": "12 mm"}, by="Mira")
    assert "measured_on_other" in bench.codes("BASE")


@pytest.mark.file_only
def test_a_clearance_measured_again_counts_for_the_open_revision_that_is_judged(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="rim", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "rim", "2.5 ±0.1 mm feeler", by="Jonas")
    bench.lock(*BOTH)
    bench.do(NewRevision, number="TURN", reason="thicker")
    bench.job.write_part("TURN", {"thickness": "12 mm"}, by="Mira")
    assert "measured_on_other" in bench.codes("TURN")
    bench.job.measure("TURN-BASE", "rim", "2.5 ±0.1 mm feeler", by="Jonas")
    assert "measured_on_other" not in bench.codes("TURN")
    assert [p.part.revision for p in bench.job.connection_view("TURN-BASE").plies] == ["B", "A"]


@pytest.mark.file_only
def test_a_length_entered_later_keeps_the_washers_and_the_other_way_round(bench):
    bench.job.close()
    for words in (["--washers", "1"], ["--length", "60 mm"], ["--washers", "2"]):
        assert main(["--job", bench.place, "bolt", "TURN-BASE", *words, "--by", "Mira"]) == 0
    connection = bench.reopen().connection_view("TURN-BASE").connection
    assert (connection.washers, connection.bolt_length.written) == (2, "60 mm")


def test_a_permit_covers_one_finding_of_one_revision_until_its_day(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="Which primer?")
    (verdict,) = bench.job.verdicts(["BASE"])
    where = next(s.where for s in verdict.stops if s.code == "question_open")
    terms = {"code": "question_open", "place": where, "reason": "either primer will do"}
    bench.job.permit("BASE", "Jonas", until="2026-03-03", **terms)
    assert "question_open" not in bench.codes("BASE")
    with pytest.raises(UnknownName):
        bench.job.permit("BASE", "Jonas", until="", code="overlap", place="nowhere", reason="no")


def test_a_permit_that_has_run_out_covers_nothing(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="Which primer?")
    where = next(s.where for s in bench.job.verdicts(["BASE"])[0].stops if s.code == "question_open")
    bench.job.permit(
        "BASE", "Jonas", until="2026-03-02", code="question_open", place=where, reason="for a day"
    )
    assert "question_open" not in bench.codes("BASE")
    bench.clock = lambda: datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
    bench.reopen()
    assert "question_open" in bench.codes("BASE")


@pytest.mark.parametrize(
    ("until", "says"),
    [
        ("2026-03-01", "over already"),
        ("2026-02-30", "expected YYYY-MM-DD"),
        ("tomorrow", "expected YYYY-MM-DD"),
    ],
)
def test_a_permit_for_a_day_that_is_past_or_no_day_is_refused(bench, until, says):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="Which primer?")
    with pytest.raises(BadInput, match=says):
        bench.job.permit("BASE", "Jonas", until=until, code="question_open", place="Q1", reason="no")


def test_a_policy_keeps_what_is_not_named_and_wants_codes_that_exist(bench):
    bench.job.set_policy(raised=["tight_worst_case"], by="Mira")
    bench.job.set_policy(roles=["drawn", "approved"], by="Mira")
    assert bench.job.policy().to_json() == {"roles": ["drawn", "approved"], "raised": ["tight_worst_case"]}
    with pytest.raises(UnknownName, match="tight_worst_case"):
        bench.job.set_policy(raised=["tight_worst"], by="Mira")
    bench.job.set_policy(raised=[], by="Mira")
    assert bench.job.policy().raised == ()


def test_odds_are_acknowledged_when_signing_and_another_policy_voids_the_signature(bench):
    """Two plates with 12.6 mm holes for M12, cut by laser: not with every limit at once, yet in nearly every lot."""
    for number in BOTH:
        bench.job.take_profile(number, "tight.dxf", plate_dxf(diameter=12.6), by="Mira")
    told = [w for w in bench.job.verdicts(BOTH)[0].warnings if w.code == "odds"]
    assert [(w.severity, w.limit) for w in told] == [("warning", "99 %")]
    bench.sign_all(*BOTH)
    assert not bench.codes("BASE") & {"unacknowledged", "role_missing", "odds_too_low", "tight_worst_case"}
    bench.job.set_policy(odds="worst case", by="Mira")
    assert {"role_missing", "tight_worst_case"} <= bench.codes("BASE")
    assert bench.job.policy().to_json()["odds"] == "worst case"
    bench.job.set_policy(odds="99", by="Mira")
    assert not bench.codes("BASE") & {"role_missing", "tight_worst_case"}


@pytest.mark.both
def test_the_kept_packet_is_handed_out_again_byte_for_byte(bench):
    made = bench.lock(*BOTH)
    name, data, files = bench.reopen().packet("BASE")
    assert (name, data) == (made.packet.name, made.packet.read_bytes())
    assert files["BASE-A_S275_10mm_x2.dxf"] == plate_dxf()


def test_only_the_exact_bytes_are_a_locked_revision(bench):
    bench.lock(*BOTH)
    assert bench.job.stands(plate_dxf()).current
    assert not bench.job.stands(plate_dxf().replace(b"\n", b"\r\n")).number


def test_a_superseded_revision_is_said_to_be_so(bench):
    bench.lock(*BOTH)
    bench.do(NewRevision, number="BASE", reason="wider")
    bench.do(NewRevision, number="TURN", reason="wider")
    for number in BOTH:
        bench.job.take_profile(number, "wide.dxf", plate_dxf(width=220.0), by="Mira")
        bench.do(RecordDimension, number=number, name="width", nominal="220 mm", measured_on="width")
    bench.lock(*BOTH)
    old = bench.job.stands(plate_dxf())
    assert old.number
    assert not old.current


@pytest.mark.both
@pytest.mark.parametrize(
    ("edit", "code"),
    [
        ("UPDATE fact_part SET thickness = '99 mm' WHERE number = 'BASE'", "fact_changed"),
        ("DROP TRIGGER journal_keeps", "trigger_gone"),
        (
            "DROP TRIGGER journal_keeps; UPDATE journal SET body = replace(body, 'S275', 'S355') WHERE seq = 4",
            "entry_changed",
        ),
        ("DROP TRIGGER journal_stays; DELETE FROM journal WHERE seq = 5", "entry_missing"),
        ("DROP TRIGGER kept_file_keeps; UPDATE kept_file SET data = x'00'", "kept_file_changed"),
        ("UPDATE fact_signature SET role = 'approved'", "fact_changed"),
    ],
)
@pytest.mark.file_only
def test_a_raw_edit_of_the_database_is_found_and_named(bench, edit, code):
    bench.lock(*BOTH)
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    raw.executescript(edit)
    raw.commit()
    raw.close()
    assert code in {f.code for f in bench.reopen().verify()}


@pytest.mark.both
@pytest.mark.parametrize(
    "edit",
    [
        "UPDATE journal SET hash = 'x'",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal SELECT seq, previous, body, hash, 'aa' FROM journal WHERE seq = 2",
        "INSERT INTO journal SELECT seq + 100, hash, body, 'ff', '' FROM journal WHERE seq = 2",
        "UPDATE kept_file SET data = x'00'",
        "INSERT OR REPLACE INTO kept_file SELECT sha256, x'00' FROM kept_file",
    ],
)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.file_only
def test_the_permanent_tables_only_grow(bench, edit, recursive):
    raw = sqlite3.connect(bench.place)
    raw.execute(f"PRAGMA recursive_triggers={recursive}")
    with pytest.raises(sqlite3.IntegrityError):
        raw.execute(edit)
    raw.close()


@pytest.mark.both
@pytest.mark.file_only
def test_a_job_whose_facts_are_lost_is_rebuilt_from_its_journal(bench):
    bench.lock(*BOTH)
    before = [v.to_json() for v in bench.job.verdicts(BOTH)]
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    raw.executescript("DROP TABLE fact_part; DROP TABLE fact_signature")
    raw.close()
    assert [v.to_json() for v in bench.reopen().verdicts(BOTH)] == before
    assert bench.job.verify() == ()


@pytest.mark.both
@pytest.mark.file_only
def test_a_forged_sign_off_in_the_facts_counts_for_nothing(bench):
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    subject = "0" * 64
    raw.execute(
        "INSERT INTO fact_signature VALUES (3, 'BASE', 'A', ?, 'checked', 'Jonas', 0, '[]')", (subject,)
    )
    raw.commit()
    raw.close()
    assert "role_missing" in {s.code for s in bench.reopen().verdicts(["BASE"])[0].stops}


@pytest.mark.both
def test_a_full_disk_while_writing_the_packet_locks_nothing(bench, monkeypatch):
    import errno
    import os

    bench.sign_all(*BOTH)
    entries = len(list(bench.job.journal()))
    real = os.fsync

    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadInput, match="No space left"):
        bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    monkeypatch.setattr(os, "fsync", real)
    assert list((bench.folder / "out").iterdir()) == []
    assert len(list(bench.job.journal())) == entries
    assert not bench.job.part("BASE").locked


@pytest.mark.both
def test_two_programs_that_lock_at_once_lock_once(bench):
    bench.sign_all(*BOTH)
    bench.job.close()
    (bench.folder / "pass").write_text(PASSPHRASE)
    command = [
        sys.executable,
        "-c",
        "from tui.start import main; main()",
        "lock",
        *BOTH,
        "--by",
        "Jonas",
        "--json",
    ]
    import os

    where = {**os.environ, "FITUP_JOB": bench.place, "FITUP_PASSPHRASE_FILE": str(bench.folder / "pass")}
    racers = [
        subprocess.Popen(
            [*command, "--out", str(bench.folder / f"out{k}")], env=where, stdout=subprocess.PIPE
        )
        for k in range(2)
    ]
    said = [json.loads(r.communicate(timeout=60)[0]) for r in racers]
    assert sorted(r.returncode != 0 for r in racers) == [False, True]
    assert sum("locked" in answer for answer in said) == 1
    assert bench.reopen().verify() == ()
    assert sum(e.kind == "lock" for e in bench.job.journal()) == 1


def test_the_packet_is_the_same_bytes_for_the_same_lock(bench):
    made = bench.lock(*BOTH)
    with zipfile.ZipFile(made.packet) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == sorted(archive.namelist())


@pytest.mark.parametrize(
    ("act", "fields"),
    [
        ("write_part", {"thickness": "-3 mm"}),
        ("write_part", {"thickness": "6,5 mm"}),
        ("write_part", {"hand": "opposite"}),
        ("write_part", {"process": "lazer"}),
        ("write_part", {"title": "a\0b"}),
        ("write_part", {"title": "x" * 10_000}),
        ("write_part", {"quantity": 0}),
    ],
)
def test_bad_fields_of_a_part_are_refused_and_change_nothing(bench, act, fields):
    before = bench.job.part("BASE")
    with pytest.raises(BadInput):
        getattr(bench.job, act)("BASE", fields, by="Mira")
    assert bench.job.part("BASE") == before


@pytest.mark.parametrize("name", ["\x1b[31mred", "a\0b", "x" * 10_000, "", "\u202eback", "two\nlines"])
def test_a_name_that_could_act_on_a_terminal_is_refused(bench, name):
    with pytest.raises(BadInput) as refusal:
        bench.job.write_part(name, PLATE, by="Mira")
    assert "\x1b" not in str(refusal.value)


@pytest.mark.parametrize("name", ["M8 [x4]", "[/close]", "plate 'x'", "=SUM(A1)"])
def test_markup_and_formulas_are_only_names(bench, name):
    bench.job.write_part(name, PLATE, by="Mira")
    assert bench.job.part(name).number == name


def test_unknown_names_name_the_nearest_known_ones(bench):
    with pytest.raises(UnknownName, match="BASE"):
        bench.job.part("BASEE")
    with pytest.raises(UnknownName, match="M12"):
        bench.connection(fastener="M11.5")
    with pytest.raises(UnknownName, match="Jonas"):
        bench.job.sign(["BASE"], "checked", "Jon", {})


def test_a_part_does_not_connect_to_itself(bench):
    plies = ({"part": "BASE", "group": "bolts"}, {"part": "BASE", "group": "bolts"})
    with pytest.raises(BadInput, match="itself"):
        bench.connection(name="X", plies=plies)


def test_a_nominal_outside_its_own_limits_is_refused(bench):
    with pytest.raises(BadInput, match="outside its own limits"):
        bench.do(RecordDimension, number="BASE", name="w", nominal="10 mm", limits="10.1..10.2 mm")


def test_a_wrong_passphrase_signs_nothing(bench):
    bench.job.close()
    entries = len(list(bench.reopen().journal()))
    bench.job.close()
    bench.job = Job(bench.place, lambda _name: "wrong", bench.clock)
    with pytest.raises(BadInput, match="wrong passphrase"):
        bench.job.sign(["BASE"], "drawn", "Mira", {})
    assert len(list(bench.job.journal())) == entries


def test_a_role_that_a_person_does_not_hold_is_refused(bench):
    bench.job.enroll("Aiko", ("drawn",), PASSPHRASE)
    with pytest.raises(BadInput, match="not as checked"):
        bench.job.sign(["BASE"], "checked", "Aiko", {})


def test_a_signed_act_has_no_way_around_its_signature(bench):
    before = [e.kind for e in bench.job.journal() if e.signed]
    assert set(before) == {"enroll_person"}
    bench.sign_all("BASE")
    assert [e.kind for e in bench.job.journal() if e.signed] == [*before, "sign_revision", "sign_revision"]
    seal = "1:" + "0" * 64
    from ledger.acts.permits import Permit

    act = make(
        Permit,
        person="Mira",
        key="0" * 64,
        nonce="0" * 32,
        seal=seal,
        parts=({"number": "BASE", "revision": "A"},),
        code="x",
        place="",
        reason="y",
    )
    with pytest.raises(BadInput, match="goes through"):
        bench.job.do(act, by="Mira")


@pytest.mark.file_only
def test_replay_applies_and_never_judges_again(bench, monkeypatch):
    bench.lock(*BOTH)
    before = bench.job.parts()
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    raw.execute("DROP TABLE fact_dimension")
    raw.close()

    def refuse(*_):
        raise AssertionError("replay ran a check")

    for kind in ACTS.values():
        monkeypatch.setattr(kind, "check", refuse)
    assert bench.reopen().parts() == before


def test_a_changed_twin_of_the_other_hand_voids_a_sign_off(bench):
    bench.job.write_part("RIGHT", {**PLATE, "hand": "opposite", "opposite_of": "BASE"}, by="Mira")
    bench.job.take_profile("RIGHT", "RIGHT.dxf", plate_dxf(), by="Mira")
    (before,) = bench.job.verdicts(["RIGHT"])
    bench.job.take_profile("BASE", "BASE.dxf", plate_dxf(width=201.0), by="Mira")
    (after,) = bench.job.verdicts(["RIGHT"])
    assert after.subject != before.subject
    assert "not_mirrored" in {s.code for s in after.stops} - {s.code for s in before.stops}


def test_a_hole_that_moved_keeps_its_label_and_is_told(bench):
    moved = ((22.0, 20.0), *CORNERS[1:])
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf(moved), by="Mira")
    (verdict,) = bench.job.verdicts(["TURN"])
    assert "hole_moved" in {n.code for n in verdict.notes}
    assert {h.label for h in bench.job.part("TURN").holes} == {"H1", "H2", "H3", "H4"}


@pytest.mark.both
def test_the_job_is_not_held_while_a_passphrase_is_typed(bench):
    bench.job.close()
    written = []

    def type_slowly(_name):
        with Job(bench.place, lambda _name: PASSPHRASE, bench.clock) as other:
            written.append(
                other.do(make(AskQuestion, number="TURN", ident="Q9", text="meanwhile?"), by="Jonas")
            )
        return PASSPHRASE

    bench.job = Job(bench.place, type_slowly, bench.clock)
    bench.job.sign(["BASE"], "drawn", "Mira", {})
    assert len(written) == 1
    assert [e.kind for e in bench.job.journal()][-2:] == ["ask_question", "sign_revision"]


def test_a_packet_handed_out_where_its_folder_lies_leaves_nothing_half(bench):
    made = bench.lock(*BOTH)
    name, data, files = bench.job.packet("BASE")
    before = sorted(p.name for p in made.packet.parent.iterdir())
    with pytest.raises(BadInput, match="already exists"):
        stage_packet(made.packet.parent, name, data, files)
    assert sorted(p.name for p in made.packet.parent.iterdir()) == before


def test_a_part_stands_in_the_list_as_it_was_last_signed(bench):
    bench.sign_all("BASE", "TURN")
    stands = {s.verdict.part: s for s in bench.job.each_verdict(BOTH)}
    assert {n: (s.verdict.go, s.together) for n, s in stands.items()} == dict.fromkeys(BOTH, (True, BOTH))
    (alone,) = bench.job.verdicts(["TURN"])
    assert "partner_open" in {f.code for f in alone.stops}
    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="TURN", reason="slots")
    (after,) = bench.job.each_verdict(["TURN"])
    assert after.together == ("TURN",)


def test_what_was_signed_alone_stands_alone(bench):
    bench.sign_all("BASE", "TURN")
    bench.sign_all("TURN")
    (stands,) = bench.job.each_verdict(["TURN"])
    assert stands.together == ("TURN",)
    assert not stands.verdict.go
