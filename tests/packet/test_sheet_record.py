"""The papers of a real job: the sheet that leaves with a lock, the record that stays, the commands that write them."""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
import zipfile
from contextlib import closing
from dataclasses import replace
from datetime import date

import pytest
from bench_job import CORNERS, plate_dxf
from packet_samples import pier, plate
from sheet_samples import bent_part, dimension, pages, printed, run_together, square_bend, words

from ledger.acts.connections import RequireClearance
from ledger.acts.parts import NewRevision, RecordHole
from ledger.acts.vouching import Vouching
from ledger.cli import main
from ledger.domain.connection import Also, Clearance, Connection, Ply, Reading
from ledger.domain.dimension_words import dimension_text, sizes_text
from ledger.domain.errors import BadInput, FitupError, UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import read_bounds, read_length
from ledger.domain.record import MeasuredHole, Question
from ledger.domain.shape import Hole
from ledger.domain.verdict import Verdict
from ledger.judge.bench import Bench as Judging
from ledger.packet.inspect import inspect
from ledger.papers import of_part as papers
from ledger.papers.record_sheet import Permitted, Record, Signature, job_record

SAYS = Finding("edge_distance", "H2 is 9 mm from the edge", "warning", "PL-101/H2")
VERDICT = Verdict(
    "PL-101", "A", "f" * 64, (), (SAYS,), (), (Finding("tight", "too tight"),), ("the weather",)
)


def record(**changes):
    whole = {
        "owner": "Pier mount job",
        "part": plate(
            dimensions=(dimension(critical=True), dimension(name="rib", limits="min", measured_on=""))
        ),
        "verdict": VERDICT,
        "locked_on": "2026-03-02",
        "locked_by": "Jonas Feld",
        "entry": 9,
        "seal": f"8:{'ab' * 32}",
        "signatures": (
            Signature("Mira Holm", "checked", "2026-03-02T09:00:00Z", "I compared this", 7, self_check=True),
        ),
        "permits": (
            Permitted("tight", "", "the vendor agreed", "2026-04-01", "Jonas Feld", "2026-03-01T08:00:00Z"),
        ),
    }
    return Record(**(whole | changes))


def test_a_record_says_who_signed_what_was_permitted_and_what_was_found():
    said = words(job_record(record()))
    for expected in (
        "JOB RECORD PL-101 A Pier plate",
        "entry of the lock 9; it names this paper by its SHA-256",
        f"seal before the lock 8:{'ab' * 32}",
        "locked 2026-03-02 by Jonas Feld",
        "checked, self-checked",
        "2026-03-02T09:00:00Z I compared this 7",
        "the vendor agreed this revision, until 2026-04-01 Jonas Feld",
        "warning edge_distance PL-101/H2 H2 is 9 mm from the edge",
        "permitted tight too tight",
        "the weather",
        "licensed engineer",
    ):
        assert expected in said, expected


def test_the_inspection_table_has_limits_and_an_empty_actual_column():
    data = job_record(record())
    said = words(data)
    assert "dimension nominal, limits from, to; place in mm Actual with, by, when" in said
    assert (
        "width (critical) 300 mm +0.2/-0.1 mm 299.9 to 300.2 rib 300 mm min >= 300 "
        "hole H1 Ø 14 mm, drawn, tapped M16 at 30, 30" in said
    )
    placed = printed(data)
    (actual,) = (x for x, *_, text in placed if text == "Actual")
    (key,) = (y for _, y, *_, text in placed if text == "width (critical)")
    assert not any(x >= actual and abs(y - key) < 1 for x, y, *_ in placed)


def test_every_stated_bend_can_be_measured_when_it_comes_back():
    said = words(job_record(record(part=bent_part(bends=(square_bend("B1"),)))))
    assert "bend B1 90° up, inside R 3 mm; ±1° by common practice" in said


def test_every_hole_of_the_drawing_and_of_the_structure_can_be_filled_in():
    said = words(job_record(record()))
    assert "hole H5 slot 14 x 34 mm, drawn at 150, 100" in said
    stud = MeasuredHole(Hole("S1", ((-12.5, 40.0),), 16.0, "measured"), read_length("0.5 mm"), "measured")
    said = words(job_record(record(part=pier(measured_holes=(stud,)))))
    assert "hole S1 Ø 16 mm, measured ± 0.5 mm (U) at -12.5, 40" in said


def connection(name, **fields):
    return Connection(name, fields.pop("kind"), (Ply("PL-101", "bolts"), Ply("PIER-1", "")), **fields)


def test_a_connection_is_told_with_all_that_holds_it_and_every_clearance():
    reading = Reading(read_length("2.4 mm"), read_length("0.1 mm"), "feeler", "Mira Holm", "2026-03-01")
    bolted = connection(
        "M1",
        kind="bolted",
        joint="through",
        fastener="M12",
        also=(Also("M6", "dowel", ("pins", "sockets")),),
        position_written="pins",
        clearances=(
            Clearance("under the rib", read_bounds(">= 2 mm"), reading=reading),
            Clearance("over the pipe", read_bounds(">= 5 mm")),
        ),
    )
    welded = connection("M2", kind="welded", gap=read_bounds("0 to 2 mm"), weld_side="up", weld_class="B")
    inside = connection("M3", kind="inside", gap=read_bounds(">= 1 mm"))
    said = words(job_record(record(connections=(bolted, welded, inside))))
    for expected in (
        "M1 bolted through M12: PL-101 (bolts) on PIER-1 also M6 dowel: pins on sockets position pins",
        "under the rib >= 2 mm 2.4 mm ± 0.1 mm (U) feeler, Mira Holm, 2026-03-01",
        "over the pipe >= 5 mm not measured",
        "M2 welded: PL-101 (bolts) on PIER-1 weld root gap 0 to 2 mm, up, weld class B M3",
        "M3 inside: PL-101 (bolts) on PIER-1 gap expected >= 1 mm",
    ):
        assert expected in said, expected


def test_what_there_is_none_of_is_said():
    bare = replace(VERDICT, warnings=(), permitted=())
    said = words(job_record(record(verdict=bare, signatures=(), permits=())))
    for heading in ("Findings at the lock", "Permits", "Signatures"):
        assert f"{heading} none" in said, heading


def test_questions_are_told_with_their_answers():
    asked = (Question("Q1", "which face is up?", "the brushed one"), Question("Q2", "paint?"))
    said = words(job_record(record(part=plate(questions=asked))))
    assert "Q1 which face is up? Answer: the brushed one Q2 paint? Answer: none yet" in said


def test_a_long_record_goes_on_over_pages_that_are_numbered():
    keys = tuple(dimension(name=f"size {k} <i>") for k in range(150))
    data = job_record(record(part=plate(dimensions=keys)), paper="letter")
    assert len(pages(data)) > 2
    for number, page in enumerate(pages(data), start=1):
        assert f"page {number} of {len(pages(data))}" in page.extract_text()
    told = words(data)
    assert all(f"size {k} <i>" in told for k in range(150))
    assert all(y >= 10 for _, y, *_ in printed(data))


def test_no_word_of_a_record_is_broken_and_every_page_of_a_table_has_its_head():
    found = tuple(
        Finding(
            f"some_quite_long_code_{k}", f"H{k} is too close to the edge; " * 9, "warning", f"PL-101/H{k}"
        )
        for k in range(40)
    )
    data = job_record(record(verdict=replace(VERDICT, warnings=found)))
    pieces = [text for *_, text in printed(data)]
    for finding in found:
        assert any(finding.code in piece.split() for piece in pieces)
        assert any(finding.where in piece.split() for piece in pieces)
    for page in pages(data):
        text = " ".join(page.extract_text().split())
        if "some_quite_long_code" in text:
            assert text.count("severity code where what") == 1


def test_a_text_that_is_longer_than_a_page_goes_on_over_the_next():
    text = " ".join(f"word{k}" for k in range(520))
    asked = (Question("Q1", text, "no"),)
    permit = Permitted("tight", "", text, "", "Jonas Feld", "2026-03-01T08:00:00Z")
    said = words(job_record(record(part=plate(questions=asked), permits=(permit,))))
    assert all(len(re.findall(rf"\bword{k}\b", said)) == 2 for k in range(0, 400, 7))


def test_the_same_record_gives_the_same_bytes():
    assert job_record(record()) == job_record(record())


def test_a_lock_puts_the_sheet_into_the_packet_and_leaves_the_record_out(bench):
    released = bench.lock("BASE", "TURN")
    data = released.packet.read_bytes()
    assert inspect(data).ok
    with zipfile.ZipFile(released.packet) as held:
        names = held.namelist()
        sheet = held.read("sheets/BASE-A.pdf")
    assert {"sheets/BASE-A.pdf", "sheets/TURN-A.pdf"} <= set(names)
    assert not any("record" in name for name in names)
    lock = next(e for e in bench.job.journal() if e.kind == "lock")
    assert lock.act["contents"]["sheets/BASE-A.pdf"] == hashlib.sha256(sheet).hexdigest()
    said = words(sheet)
    assert lock.act["parts"][0]["subject"] in said
    assert f"journal seal before the lock {lock.act['seal']}" in said
    assert "creator Mira approval person Jonas, checked" in said
    assert f"date of issue {date.fromisoformat(lock.at[:10])}" in said
    assert "PREVIEW" not in said


def test_the_record_of_a_locked_part_is_what_was_locked(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="under the rib", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "under the rib", "2.4 ±0.1 mm feeler", by="Mira")
    released = bench.lock("BASE", "TURN")
    said = words(bench.job.record("BASE"))
    (verdict,) = bench.job.verdicts(["BASE"])
    lock = next(e for e in bench.job.journal() if e.kind == "lock")
    assert released.seal.startswith(f"{lock.seq}:")
    assert f"entry of the lock {lock.seq};" in said
    assert f"seal before the lock {lock.act['seal']}" in said
    assert "under the rib >= 2 mm 2.4 mm ± 0.1 mm (U) feeler, Mira, 2026-03-02" in said
    (fits,) = (f for f in verdict.notes if f.code == "fits")
    assert fits.measured in said
    assert fits.message in said
    assert "drawn Mira" in said
    assert "checked Jonas" in said


def test_a_record_is_kept_with_the_lock_and_named_by_its_entry(bench):
    bench.lock("BASE", "TURN")
    lock = next(e for e in bench.job.journal() if e.kind == "lock")
    for part in lock.act["parts"]:
        kept = bench.job.record(part["number"], part["revision"])
        assert hashlib.sha256(kept).hexdigest() == part["record"]
    assert bench.reopen().record("BASE") == bench.job.record("BASE")
    assert not bench.job.verify()


def test_a_record_made_again_from_the_facts_before_the_lock_is_the_one_that_was_kept(bench):
    bench.sign_all("BASE", "TURN")
    with bench.job.store.reading() as facts:
        judged = Judging(facts, ("BASE", "TURN"), "2026-03-02")
        verdict = judged.verdict("BASE")
        part = judged.cases("BASE")[0].part
        made = [
            job_record(papers.record(facts, part, verdict, Vouching(facts), day="2026-03-02", by="Jonas"))
            for _ in "ab"
        ]
    bench.job.lock(("BASE", "TURN"), "Jonas", bench.folder / "out")
    assert made == [bench.job.record("BASE")] * 2


def test_what_is_measured_later_does_not_reach_a_kept_record(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="under the rib", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "under the rib", "2.4 ±0.1 mm feeler", by="Mira")
    bench.lock("BASE", "TURN")
    kept = bench.job.record("BASE")
    bench.job.measure("TURN-BASE", "under the rib", "2.9 ±0.1 mm feeler", by="Mira")
    assert bench.job.record("BASE") == kept
    assert "2.4 mm ± 0.1 mm (U)" in words(kept)


@pytest.mark.parametrize(
    ("does", "code"),
    [
        ("UPDATE kept_file SET data = CAST(data || x'00' AS BLOB) WHERE sha256 = ?", "kept_file_changed"),
        ("UPDATE kept_file SET data = data || 'text' WHERE sha256 = ?", "kept_file_changed"),
        ("UPDATE kept_file SET data = CAST(data AS TEXT) WHERE sha256 = ?", "kept_file_changed"),
        ("DELETE FROM kept_file WHERE sha256 = ?", "kept_file_missing"),
    ],
)
@pytest.mark.file_only
def test_an_altered_or_missing_record_is_noticed(bench, does, code):
    bench.lock("BASE", "TURN")
    digest = hashlib.sha256(bench.job.record("BASE")).hexdigest()
    with closing(sqlite3.connect(bench.place)) as broken:
        guards = broken.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            broken.execute(f"DROP TRIGGER {name}")
        broken.execute(does, (digest,))
        for _, sql in guards:
            broken.execute(sql)
        broken.commit()
    (found,) = bench.job.verify()
    assert (found.code, found.where) == (code, digest)
    with pytest.raises(FitupError):
        bench.job.record("BASE")


def test_the_record_has_every_dimension_hole_finding_and_sign_off(bench):
    bench.lock("BASE", "TURN")
    for number in ("BASE", "TURN"):
        (verdict,) = bench.job.verdicts([number])
        said = run_together(bench.job.record(number))
        part = bench.job.part(number)
        for key in part.dimensions:
            assert run(f"{key.name} {dimension_text(key)} {sizes_text(key)}") in said
        for hole in part.holes:
            x, y = hole.centre
            assert run(f"hole {hole.label} Ø {hole.diameter_mm:g} mm, drawn at {x:g}, {y:g}") in said
        for found in (*verdict.warnings, *verdict.permitted, *verdict.notes):
            assert run(f"{found.code} {found.where} {found.message}") in said
        for signed in verdict.signed:
            assert run(f"{signed.role} {signed.person}") in said
        for words_ in verdict.not_checked:
            assert run(words_) in said
        assert verdict.notes
        assert len(verdict.signed) == 2


def test_the_released_sheet_has_every_dimension_hole_and_sign_off(bench):
    released = bench.lock("BASE", "TURN")
    with zipfile.ZipFile(released.packet) as held:
        sheets = {n: run_together(held.read(f"sheets/{n}-A.pdf")) for n in ("BASE", "TURN")}
    for number, said in sheets.items():
        part = bench.job.part(number)
        assert len(part.dimensions) == 2
        for key in part.dimensions:
            assert run(f"{key.name} {dimension_text(key)} {sizes_text(key)}; {key.measured_on}") in said
        for hole in part.holes:
            x, y = hole.centre
            assert run(f"{hole.label} {x:g} {y:g} Ø {hole.diameter_mm:g}") in said
        assert run("creator Mira approval person Jonas, checked") in said


def run(text):
    return "".join(text.split())


def test_an_open_part_has_no_record(bench):
    with pytest.raises(UnknownName, match="locked revision"):
        bench.job.record("BASE")


def test_a_connection_is_drawn_with_both_plies_and_an_unknown_name_is_refused(bench):
    assert b"TURN-BASE" in bench.job.picture("TURN-BASE")
    assert b"BASE A" in bench.job.picture("BASE")
    with pytest.raises(UnknownName, match="TURN-BASE"):
        bench.job.picture("TURN-BAS")


def test_a_connection_with_an_undrawn_ply_cannot_be_drawn(bench):
    bench.job.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    bench.connection("ON-PIER", plies=({"part": "TURN", "group": "bolts"}, {"part": "PIER"}))
    with pytest.raises(BadInput, match="ON-PIER cannot be drawn: no drawing and no holes of PIER"):
        bench.job.picture("ON-PIER")


@pytest.mark.parametrize("form", ["bought", "site"])
def test_a_connection_to_a_part_without_a_drawing_is_drawn_with_its_holes(bench, form):
    bench.job.write_part("FLANGE", {"title": "flange", "form": form}, by="Mira")
    for k, (x, y) in enumerate(CORNERS, 1):
        fields = {"label": f"S{k}", "x": f"{x} mm", "y": f"{y} mm", "diameter": "13.5 mm"}
        bench.do(RecordHole, number="FLANGE", uncertainty="0.1 mm", source="measured", **fields)
    bench.connection("ON-FLANGE", plies=({"part": "FLANGE"}, {"part": "TURN", "group": "bolts"}))
    picture = bench.job.picture("ON-FLANGE").decode()
    assert all(f">S{k}<" in picture for k in (1, 2, 3, 4))
    assert ">S1<" in bench.job.picture("FLANGE").decode()


def test_a_connection_is_drawn_at_the_open_revision_that_is_judged(bench):
    bench.lock("BASE", "TURN")
    assert b"L260 " not in bench.job.picture("TURN-BASE")
    bench.do(NewRevision, number="BASE", reason="longer")
    bench.job.take_profile("BASE", "BASE.dxf", plate_dxf(width=260.0), by="Mira")
    assert b"L260 " in bench.job.picture("TURN-BASE")


@pytest.mark.parametrize(
    ("command", "ending", "start"),
    [
        (["picture", "BASE"], "svg", b"<svg"),
        (["picture", "TURN-BASE"], "SVG", b"<svg"),
        (["picture", "BASE"], "png", b"\x89PNG"),
        (["picture", "TURN-BASE"], "PNG", b"\x89PNG"),
        (["sheet", "BASE"], "pdf", b"%PDF"),
        (["record", "BASE"], "pdf", b"%PDF"),
        (["report"], "html", b"<!doctype html>"),
    ],
)
def test_each_command_writes_its_file(bench, capsys, command, ending, start):
    bench.lock("BASE", "TURN")
    out = bench.folder / f"paper.{ending}"
    assert main([*command, "-o", str(out), "--job", bench.place, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert out.read_bytes().startswith(start)
    assert said["size"] == out.stat().st_size


@pytest.mark.parametrize("name", ["picture.jpg", "picture", "png", ".svg"])
def test_a_picture_of_another_kind_is_refused_and_nothing_written(bench, tmp_path, capsys, name):
    out = tmp_path / name
    assert main(["picture", "BASE", "-o", str(out), "--job", bench.place]) == 2
    assert "svg or png" in capsys.readouterr().err
    assert not out.exists()


def test_the_sheet_by_command_says_do_not_cut_until_the_part_is_locked(bench, tmp_path):
    out = tmp_path / "sheet.pdf"
    command = ["sheet", "BASE", "--paper", "letter", "-o", str(out), "--job", bench.place]
    assert main(command) == 0
    assert "do not cut" in words(out.read_bytes())
    bench.lock("BASE", "TURN")
    assert main(command) == 0
    assert "do not cut" not in words(out.read_bytes())


def test_a_command_that_is_refused_writes_no_file(bench, tmp_path, capsys):
    out = tmp_path / "record.pdf"
    assert main(["record", "BASE", "-o", str(out), "--job", bench.place]) == 2
    assert "locked revision" in capsys.readouterr().err
    assert not out.exists()
