"""What lies in a folder to be sent is, byte for byte, what was locked last; or it is said what differs."""

from __future__ import annotations

import json

import pytest
from bench_job import CORNERS, plate_dxf

from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision
from ledger.cli import main
from ledger.domain.errors import Unreadable
from ledger.release.guard import _by_name, _misnamed
from ledger.store.tables import LockFact

BOTH = ("BASE", "TURN")
BASE, TURN = "BASE-A_S275_10mm_x2.dxf", "TURN-A_S275_10mm_x2.dxf"


@pytest.fixture
def sent(bench, tmp_path):
    """A job whose two plates are locked, and the folder of their drawings."""
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf(diameter=14.0), by="Mira")
    bench.lock(*BOTH)
    (folder,) = (p for p in (tmp_path / "out").iterdir() if p.is_dir())
    return folder


def seen(bench, folder):
    return {f.file: f for f in bench.job.guard(folder).files}


def test_what_was_locked_may_go(bench, sent):
    looked = bench.job.guard(sent)
    assert [(f.file, f.state, f.part, f.revision) for f in looked.files] == [
        (BASE, "current", "BASE", "A"),
        (TURN, "current", "TURN", "A"),
    ]
    assert looked.may_go


def test_a_file_may_have_any_name_so_long_as_its_bytes_are_right(bench, sent):
    (sent / "deep").mkdir()
    (sent / BASE).rename(sent / "deep" / "final_FINAL.DXF")
    assert seen(bench, sent)["deep/final_FINAL.DXF"].may_go


def drawn(old, new):
    return lambda data: data.replace(old, new, 1)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda data: data.replace(b"\n", b"\r\n"), "same shape in other bytes: only its line ends differ"),
        (lambda data: b"999\nsaved again\n" + data, "same shape in other bytes: only spacing or comments"),
        (
            lambda data: data.replace(b"$ACADMAINTVER\n 70\n6", b"$ACADMAINTVER\n 70\n7"),
            "same shape in other bytes: only its header differs: $ACADMAINTVER 6 became 7",
        ),
        (lambda _data: plate_dxf(((24.0, 20.0), *CORNERS[1:])), "hole moved H"),
        (lambda _data: plate_dxf(diameter=13.0), "hole size H"),
        (lambda _data: plate_dxf(CORNERS[:3]), "gone, was round"),
        (lambda _data: plate_dxf(width=201.0), "outline: 200.000 x 100.000 mm"),
    ],
    ids=["line ends", "a comment", "the header", "moved", "resized", "gone", "outline"],
)
def test_a_near_miss_says_what_differs(bench, sent, change, told):
    data = (sent / BASE).read_bytes()
    changed = change(data)
    assert changed != data
    (sent / BASE).write_bytes(changed)
    found = seen(bench, sent)
    assert found[TURN].may_go
    assert (found[BASE].state, found[BASE].part, found[BASE].revision) == ("differs", "BASE", "A")
    assert any(told in line for line in found[BASE].says), found[BASE].says


def test_another_unit_in_the_header_is_told(bench, sent):
    data = (sent / BASE).read_bytes()
    at = data.index(b"$INSUNITS")
    (sent / BASE).write_bytes(data[:at] + data[at:].replace(b"4\n", b"1\n", 1))
    assert "its unit reads as in, the locked one is in mm" in seen(bench, sent)[BASE].says


@pytest.mark.both
def test_a_superseded_revision_names_the_one_to_send(bench, sent):
    for number in BOTH:
        bench.do(NewRevision, number=number, reason="wider")
        bench.job.take_profile(number, "wide.dxf", plate_dxf(width=220.0), by="Mira")
        bench.do(RecordDimension, number=number, name="width", nominal="220 mm", measured_on="width")
    assert bench.job.guard(sent).may_go
    wide = sent / "wide.dxf"
    wide.write_bytes(plate_dxf(width=220.0))
    assert (seen(bench, sent)["wide.dxf"].state, seen(bench, sent)["wide.dxf"].revision) == (
        "not locked",
        "B",
    )
    bench.lock(*BOTH)
    found = seen(bench, sent)
    assert found["wide.dxf"].may_go
    assert (found[BASE].state, found[BASE].revision) == ("superseded", "A")
    assert "revision B was locked since: send that one (BASE-B_" in found[BASE].says[0]


def test_what_is_like_nothing_locked_and_what_cannot_be_read_are_told_apart(bench, sent):
    (sent / "other.dxf").write_bytes(plate_dxf(((5.0, 5.0),), 3.0, 33.0, 44.0))
    (sent / "broken.dxf").write_bytes(b"not a drawing")
    (sent / "notes.txt").write_text("for the vendor")
    looked = bench.job.guard(sent)
    states = {f.file: f.state for f in looked.files}
    assert (states["other.dxf"], states["broken.dxf"], looked.others) == ("unknown", "unreadable", 1)
    assert not looked.may_go


def test_a_copy_under_another_name_is_found_by_its_shape(bench, sent):
    (sent / "for_the_laser.dxf").write_bytes(plate_dxf(((20.0, 21.0), *CORNERS[1:])))
    found = seen(bench, sent)["for_the_laser.dxf"]
    assert (found.state, found.part) == ("differs", "BASE")
    assert len(found.says) == 1


def test_guard_on_the_command_line(bench, sent, capsys, tmp_path):
    def run(*words):
        code = main(["--job", bench.place, "--json", "guard", *words])
        return code, json.loads(capsys.readouterr().out)

    code, said = run(str(sent))
    assert (code, said["may_go"], len(said["files"])) == (0, True, 2)
    (sent / BASE).write_bytes(plate_dxf(width=201.0))
    assert run(str(sent))[0] == 1
    assert main(["--job", bench.place, "guard", str(sent)]) == 1
    assert f"STOP  {BASE}: differs nearest to BASE revision A" in capsys.readouterr().out
    (tmp_path / "empty").mkdir()
    assert run(str(tmp_path / "empty"))[0] == 1
    assert run(str(tmp_path / "none"))[0] == 3
    with pytest.raises(Unreadable):
        bench.job.guard(tmp_path / "none")


def test_a_name_speaks_of_the_part_with_the_longest_number_that_begins_it():
    locks = [
        LockFact.model_construct(seq=n, number=number, dxf="d", dxf_name=f"{number}.dxf")
        for n, number in enumerate(("ARM", "ARM-L", "A"))
    ]
    assert [k.number for k in _by_name(locks, "arm-l-rev2.dxf")] == ["ARM-L", "ARM", "A"]
    assert [k.number for k in _by_name(locks, "arm.dxf")] == ["ARM", "A", "ARM-L"]


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("thickness", "12 mm", "its name says thickness 10 mm, current is 12 mm"),
        ("material", "S355", "its name says material S275, current is S355"),
        ("quantity", 3, "its name says quantity 2, current is 3"),
        ("note", "edges broken", "its name says revision A, current is B"),
    ],
)
@pytest.mark.file_only
def test_a_file_whose_name_says_what_is_no_longer_so_must_not_go(bench, sent, field, value, told):
    bench.do(NewRevision, number="BASE", reason="same outline")
    bench.job.write_part("BASE", {field: value}, by="Mira")
    bench.lock("BASE")
    for name in (BASE, BASE.replace(".dxf", " copy.dxf")):
        (sent / BASE).replace(sent / name)
        found = seen(bench, sent)[name]
        assert (found.state, found.revision, found.may_go) == ("superseded", "B", False)
        assert told in found.says
        (sent / name).replace(sent / BASE)
    (sent / BASE).rename(sent / "plate.dxf")
    found = seen(bench, sent)["plate.dxf"]
    assert (found.may_go, found.revision) == (True, "B")
    assert found.says == (f"the same bytes were locked as {BASE} before",)


def test_names_that_speak_of_nothing_else_are_let_through():
    now = "BASE-B_S275_25mm_x2"
    for name in (
        now,
        f"{now} (1)",
        f"{now}_copy",
        "BASE",
        "BASE-B",
        "BASE_25mm",
        "plate",
        "BASE_copy",
        now.lower(),
    ):
        assert _misnamed(name, now, "BASE") == (), name
    for name in (
        "BASE-A",
        "BASE_20mm",
        "BASE_x3",
        "BASE-B_S275_20mm_x2",
        "BASE-B_S355_25mm_x2",
        "base-a_copy",
    ):
        assert len(_misnamed(name, now, "BASE")) == 1, name
