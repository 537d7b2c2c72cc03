"""A folder of drawings becomes parts in one command: what names say, what is mended, skipped and refused."""

from __future__ import annotations

import json
import os

import pytest
from bench_job import plate_dxf
from raw_dxf import box, circle, header, raw

from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.name_patterns import EXAMPLE, read_file_names
from ledger.drawings import files

HOLES = ((30.0, 30.0), (90.0, 30.0), (90.0, 70.0))


def doubled():
    """A plate with a hole that is drawn twice."""
    return raw(
        box(0, 0, 120, 80),
        circle(20, 20, 4.5),
        circle(90, 20, 4.5),
        circle(90, 20, 4.5),
        head=header(INSUNITS=4),
    )


def several_outlines():
    """Two plates in one file."""
    return raw(
        box(0, 0, 120, 80),
        circle(20, 20, 4.5),
        box(200, 0, 60, 40),
        circle(220, 20, 4.5),
        head=header(INSUNITS=4),
    )


@pytest.fixture
def folder(bench, tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")
    monkeypatch.setenv("FITUP_JOB", bench.place)
    made = tmp_path / "drawings"
    made.mkdir()
    return made


@pytest.fixture
def take(folder, capsys):
    def taken(*words, code=0):
        capsys.readouterr()
        assert main(["take", *words, "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return taken


def entries(bench):
    return [w.kind for w in bench.job.journal()]


def put(folder, name, width=130.0, data=None):
    (folder / name).write_bytes(data or plate_dxf(HOLES, 9.0, width=width))


def test_names_say_what_the_parts_are(bench, folder, take):
    put(folder, "ARM_L_S275_12mm_x2.dxf", 140)
    put(folder, "RING_6061-T6_0.25in_x1.DXF", 150)
    (folder / "notes.txt").write_text("thicker?")
    (folder / "old").mkdir()
    told = take(str(folder), "--names", EXAMPLE, "--process", "laser")
    assert [(p["number"], p["how"]) for p in told["parts"]] == [("ARM_L", "taken"), ("RING", "taken")]
    assert (told["others"], told["folders"]) == (1, 1)
    arm, ring = bench.job.part("ARM_L"), bench.job.part("RING")
    assert (arm.material, arm.thickness.written, arm.quantity, arm.process) == ("S275", "12mm", 2, "laser")
    assert (float(ring.thickness.mm), ring.quantity, len(ring.holes)) == (6.35, 1, 3)
    put(folder, "CAP_S275_3mm_x4.dxf", 160)
    assert [p["number"] for p in take(str(folder))["parts"]] == ["CAP"]  # the job remembers how names read
    assert bench.job.verify() == ()


def test_the_options_fill_what_names_do_not_say(bench, folder, take):
    put(folder, "ARM.dxf")
    take(str(folder), "--material", "S275", "--thickness", "16 ga", "--quantity", "3")
    arm = bench.job.part("ARM")
    assert (arm.material, arm.quantity, arm.revision) == ("S275", 3, "A")
    assert arm.thickness.written.endswith(" in")


def test_a_part_may_be_older_than_the_job(bench, folder, take):
    put(folder, "ARM rev c.dxf")
    take(str(folder), "--names", "{number} rev {revision}")
    assert bench.job.part("ARM").revision == "C"


def test_drawings_that_are_parts_already_are_skipped(bench, folder, take):
    put(folder, "ARM.dxf")
    put(folder, "CAP.dxf", data=doubled())
    take(str(folder))
    before = entries(bench)
    told = take(str(folder))
    assert sorted((k["file"], k["number"]) for k in told["skipped"]) == [
        ("ARM.dxf", "ARM"),
        ("CAP.dxf", "CAP"),
    ]
    assert entries(bench) == before


def test_a_drawing_is_mended_where_a_copy_decides_nothing(bench, folder, take):
    put(folder, "CAP.dxf", data=doubled())
    (part,) = take(str(folder))["parts"]
    assert (part["how"], part["fixed"]) == ("mended", ["duplicate"])
    assert bench.job.part("CAP").taken.profile.usable
    assert entries(bench)[-3:] == ["record_part", "take_profile", "take_profile"]


def test_a_drawing_with_a_choice_is_taken_as_it_is_and_says_the_fix(bench, folder, capsys):
    put(folder, "CAP.dxf", data=several_outlines())
    assert main(["take", str(folder)]) == 1
    said = capsys.readouterr().out
    assert "not usable yet" in said
    assert "fitup mend --part CAP --outline 1" in said
    assert not bench.job.part("CAP").taken.profile.usable
    assert main(["mend", "--part", "CAP", "--outline", "1"]) == 0
    assert bench.job.part("CAP").taken.profile.usable


def test_files_that_are_no_drawings_are_listed_and_the_others_taken(bench, folder, take):
    put(folder, "ARM.dxf")
    for k in range(4):
        (folder / f"junk{k}.dxf").write_bytes(b"\x00\x01 no drawing" * k)
    (folder / "gone.dxf").symlink_to(folder / "nowhere.dxf")
    os.mkfifo(folder / "pipe.dxf")
    with (folder / "large.dxf").open("wb") as large:
        large.truncate(50 * 1024 * 1024)
    told = take(str(folder), code=1)
    assert [p["number"] for p in told["parts"]] == ["ARM"]
    assert len(told["refused"]) == 7
    assert all(r["why"] for r in told["refused"])


def test_a_file_that_vanishes_after_the_folder_was_listed_is_told_and_the_others_taken(
    bench, folder, take, monkeypatch
):
    put(folder, "ARM.dxf")
    put(folder, "BASE.dxf", 140.0)
    listed = files.found

    def gone_after(paths):
        found = listed(paths)
        (folder / "BASE.dxf").unlink()
        return found

    monkeypatch.setattr(files, "found", gone_after)
    told = take(str(folder), code=1)
    assert [p["number"] for p in told["parts"]] == ["ARM"]
    (refused,) = told["refused"]
    assert refused["file"] == "BASE.dxf"
    assert "No such file" in refused["why"]


def test_strict_records_nothing_where_one_file_is_refused(bench, folder, take):
    put(folder, "ARM.dxf")
    (folder / "junk.dxf").write_bytes(b"no drawing")
    before = entries(bench)
    assert "nothing was recorded: junk.dxf" in take(str(folder), "--strict", code=2)["error"]["message"]
    assert entries(bench) == before


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("ARM_S275_thick_x2", "thick"),
        ("ARM_S275_0mm_x2", "0mm"),
        ("ARM_S257_12mm_x2", "'S257' as material"),
        ("ARM_S275_12mm_xtwo", "'two' as quantity"),
        ("ARM_S275_12mm_x0", "0"),
        ("ARM_S275_12mm", "expected {number}"),
        ("A\u202eRM_S275_12mm_x2", "invisible"),
        ("x" * 90 + "_S275_12mm_x2", "at most 64"),
    ],
)
def test_a_name_that_says_something_wrong_refuses_its_file_alone(bench, folder, take, name, read):
    put(folder, f"{name}.dxf")
    put(folder, "GOOD_S275_12mm_x2.dxf", 150)
    told = take(str(folder), "--names", EXAMPLE, code=1)
    assert [p["number"] for p in told["parts"]] == ["GOOD"]
    (refused,) = told["refused"]
    assert read in refused["why"]


def test_names_that_steer_a_terminal_come_out_as_escapes(folder, capsys):
    put(folder, "a\x1b[2J.dxf")
    assert main(["take", str(folder)]) == 1
    assert "\x1b" not in capsys.readouterr().out


def test_two_files_of_one_number_are_both_refused(bench, folder, take):
    put(folder, "ARM.dxf")
    put(folder, "ARM.DXF", 150)
    told = take(str(folder), code=1)
    assert (told["parts"], len(told["refused"])) == ([], 2)
    assert "expected one drawing a part" in told["refused"][0]["why"]


def test_a_changed_drawing_is_taken_only_when_told_so(bench, folder, take):
    put(folder, "ARM.dxf")
    take(str(folder), "--material", "S275")
    put(folder, "ARM.dxf", 150)
    assert "--changed" in take(str(folder), code=1)["refused"][0]["why"]
    (part,) = take(str(folder), "--changed", "--material", "S355")["parts"]
    assert part["known"]
    arm = bench.job.part("ARM")
    assert (arm.taken.profile.size_mm[0], arm.material) == (150, "S275")  # what is recorded stays


def test_what_is_recorded_is_not_written_over_by_a_name(bench, folder, take):
    bench.job.write_part("ARM", {"material": "S275", "thickness": "12 mm"}, by="Mira")
    put(folder, "ARM_S275_10mm_x2.dxf")
    why = take(str(folder), "--names", EXAMPLE, code=1)["refused"][0]["why"]
    assert "read '10mm' as thickness; expected 12 mm, as recorded of ARM" in why
    (folder / "ARM_S275_10mm_x2.dxf").rename(folder / "ARM_S275_12.0mm_x2.dxf")
    take(str(folder), "--names", EXAMPLE)
    assert bench.job.part("ARM").quantity == 2


def test_a_locked_part_keeps_its_drawing(bench, folder, take):
    bench.lock("BASE", "TURN")
    put(folder, "BASE.dxf", 150)
    assert "fitup revise BASE" in take(str(folder), "--changed", code=1)["refused"][0]["why"]


def test_a_pattern_is_told_only_with_what_it_reads(bench, folder, take):
    put(folder, "ARM.dxf")
    before = entries(bench)
    take(str(folder), "--names", EXAMPLE, code=1)
    assert entries(bench) == before
    take(str(folder), "--names", "{number}")
    assert "record_file_names" in entries(bench)


def test_a_part_and_its_file_are_still_one_drawing(bench, folder, capsys):
    put(folder, "new.dxf", 150)
    assert main(["take", "BASE", str(folder / "new.dxf")]) == 0
    assert bench.job.part("BASE").taken.profile.size_mm[0] == 150
    os.chdir(folder.parent)
    capsys.readouterr()
    assert main(["take", "drawings", str(folder / "new.dxf")]) == 2
    assert "fitup take drawings/" in capsys.readouterr().err
    assert main(["take", "drawings", str(folder / "new.dxf"), "--material", "S275"]) == 2
    assert main(["take", "drawings/", str(folder / "new.dxf")]) == 0


@pytest.mark.parametrize(
    "pattern",
    [
        "",
        "{material}",
        "{number}{material}",
        "{number}_{number}",
        "{number",
        "{number!r}",
        "{number:3}",
        "{{{number}}}_{title}",
        "x" * 300,
    ],
)
def test_a_pattern_that_cannot_be_read_is_refused(pattern):
    with pytest.raises(BadInput):
        read_file_names(pattern)
    with pytest.raises(UnknownName, match="material"):
        read_file_names("{number} {materal}")


def test_a_pattern_reads_what_it_writes():
    reads = read_file_names("Q-{quantity} {number} ({thickness}mm)")
    assert reads.fields("q-2 ARM (L) (12mm)") == {"quantity": "2", "number": "ARM (L)", "thickness": "12 mm"}
    with pytest.raises(BadInput, match="rename"):
        reads.fields("ARM")


def test_of_three_hundred_files_each_is_taken_or_refused_with_its_own_reason(bench, folder, take):
    """40 hold no DXF, 256 the same plate again, one 50 MB, and two are links that lead nowhere or to themselves."""
    for k in range(257):
        put(folder, f"P{k:03}.dxf")
    for k in range(40):
        put(folder, f"X{k:02}.dxf", data=b"no drawing %d" % k)
    with (folder / "LARGE.dxf").open("wb") as large:
        large.truncate(50 * 1024 * 1024)
    (folder / "GONE.dxf").symlink_to(folder / "nothing.dxf")
    (folder / "LOOP.dxf").symlink_to(folder / "LOOP.dxf")
    told = take(str(folder), code=1)
    assert [p["number"] for p in told["parts"]] == ["P000"]
    why = {r["file"]: r["why"] for r in told["refused"]}
    assert len(why) == 299
    assert all("the same bytes as P000.dxf" in why[f"P{k:03}.dxf"] for k in range(1, 257))
    assert "50.0 MB, at most" in why["LARGE.dxf"]
    assert all(why[name].startswith("cannot read") for name in ("GONE.dxf", "LOOP.dxf"))
    assert all(why[f"X{k:02}.dxf"] for k in range(40))


def test_a_link_to_a_drawing_is_taken_as_the_drawing_it_leads_to(bench, folder, take, tmp_path):
    (tmp_path / "elsewhere.dxf").write_bytes(plate_dxf(HOLES, 9.0, width=170.0))
    (folder / "LINKED.dxf").symlink_to(tmp_path / "elsewhere.dxf")
    (part,) = take(str(folder))["parts"]
    assert (part["number"], part["holes"]) == ("LINKED", 3)
