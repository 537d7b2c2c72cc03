"""Files kept as evidence: by their bytes, with what they belong to; told, written out, verified, in the report."""

from __future__ import annotations

import base64
import json
import re
from io import BytesIO

import pytest
from bench_job import PASSPHRASE
from PIL import Image
from small_job import edit

from ledger.acts.connections import RequireClearance
from ledger.acts.evidence import KeepEvidence
from ledger.acts.questions import AskQuestion
from ledger.cli import main
from ledger.domain.errors import BadInput, Tampered, UnknownName
from ledger.job import Job
from ledger.papers.evidence_pictures import small_picture

pytestmark = pytest.mark.file_only


def picture(width=1600, height=900, kind="JPEG", **said):
    out = BytesIO()
    Image.effect_noise((width, height), 40).convert("RGB").save(out, kind, **said)
    return out.getvalue()


@pytest.fixture
def asked(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which face is up?")
    bench.do(RequireClearance, connection="TURN-BASE", name="edge/left", required=">= 2 mm")
    return bench


def kept(job):
    return [(one.address, one.to, one.file, one.size) for one in job.evidence()]


def test_files_are_kept_with_what_an_address_names(asked):
    job = asked.job
    with pytest.raises(BadInput, match="edge/left of TURN-BASE is not measured yet"):
        job.keep_evidence("TURN-BASE/edge/left", {"a.jpg": b"x"}, by="Mira")
    job.measure("TURN-BASE", "edge/left", "2.8 ±0.1 mm feeler", by="Mira")
    for address in ("BASE", "BASE/Q1", "TURN-BASE/edge/left"):
        job.keep_evidence(address, {"caliper.jpg": b"x", "b.pdf": b"yz"}, by="Mira")
    assert kept(job) == [
        ("BASE", "part", "b.pdf", 2),
        ("BASE", "part", "caliper.jpg", 1),
        ("BASE/Q1", "question", "b.pdf", 2),
        ("BASE/Q1", "question", "caliper.jpg", 1),
        ("TURN-BASE/edge/left", "reading", "b.pdf", 2),
        ("TURN-BASE/edge/left", "reading", "caliper.jpg", 1),
    ]
    assert job.verify() == ()


@pytest.mark.parametrize(
    ("address", "files", "kind", "said"),
    [
        ("BASE/Q9", {"a.jpg": b"x"}, UnknownName, "BASE/Q1"),
        ("TURN-BASE", {"a.jpg": b"x"}, BadInput, "one of its clearances: TURN-BASE/NAME"),
        ("nothing", {"a.jpg": b"x"}, UnknownName, "nothing"),
        ("BASE", {"a.jpg": b""}, BadInput, "a.jpg is empty"),
        (
            "BASE",
            {"a.jpg": b"x", "big.tif": bytes(25_000_001)},
            BadInput,
            "big.tif has 25.0 MB; expected 25 MB at",
        ),
        ("BASE", {"../up.jpg": b"x"}, BadInput, "not a plain file name"),
        ("BASE", {"a\x07.jpg": b"x"}, BadInput, "not a plain file name"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_nothing_is(asked, address, files, kind, said):
    before = asked.job.seal()
    with pytest.raises(kind, match=said):
        asked.job.keep_evidence(address, files, by="Mira")
    assert (asked.job.seal(), asked.job.evidence()) == (before, ())


def test_an_entry_that_names_another_owner_than_its_address_is_refused(asked):
    said = {"file_name": "a.jpg", "sha256": "0" * 64, "size": 1}
    with pytest.raises(BadInput, match="is no question of TURN"):
        asked.do(KeepEvidence, address="BASE/Q1", to="question", owner="TURN", name="Q1", **said)


def test_no_signature_is_void_by_a_photograph(bench):
    bench.sign_all("BASE", "TURN")
    before = bench.codes("BASE")
    bench.job.keep_evidence("BASE", {"a.jpg": b"x"}, by="Mira")
    assert bench.codes("BASE") == before
    bench.job.lock(["BASE", "TURN"], "Jonas", bench.folder / "out")
    bench.job.keep_evidence("BASE", {"as-built.jpg": b"y"}, by="Mira")
    assert bench.job.verify() == ()


def test_it_goes_out_and_comes_in_and_is_verified(asked, tmp_path):
    data = picture()
    asked.job.keep_evidence("BASE/Q1", {"caliper.jpg": data}, by="Mira")
    asked.job.export(tmp_path / "e")
    with Job.bring_in(str(tmp_path / "b.db"), tmp_path / "e", lambda _n: PASSPHRASE) as other:
        assert other.evidence() == asked.job.evidence()
        assert other.write_evidence(tmp_path / "w") == ("001-caliper.jpg",)
    assert (tmp_path / "w" / "001-caliper.jpg").read_bytes() == data
    edit(asked.place, f"UPDATE kept_file SET data = x'00' WHERE sha256 = '{asked.job.evidence()[0].sha256}'")
    (found,) = asked.job.verify()
    assert "the file caliper.jpg kept with BASE/Q1" in found.message
    with pytest.raises(Tampered):
        asked.job.write_evidence(tmp_path / "w2")
    assert not (tmp_path / "w2").exists()


def test_the_report_has_small_pictures_and_the_names_of_all(asked):
    asked.job.keep_evidence(
        "BASE/Q1", {"caliper.jpg": picture(), "bill <b>.pdf": b"%PDF", "no.png": b"x"}, by="Mira"
    )
    page = asked.job.report().decode()
    (shown,) = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    with Image.open(BytesIO(base64.b64decode(shown))) as small:
        assert small.size == (480, 270)
    assert "BASE/Q1: bill &lt;b&gt;.pdf" in page
    assert "BASE/Q1: no.png" in page


def test_a_picture_turned_by_the_camera_stands_upright_and_says_no_place():
    told = Image.Exif()
    told[0x0112], told[0x010E] = 6, "at home"  # orientation (TIFF 6.0, 8): rows are columns; a description
    with Image.open(BytesIO(small_picture(picture(800, 400, exif=told)))) as shown:
        assert shown.size == (240, 480)
        assert not shown.getexif()


@pytest.mark.parametrize("data", [b"", b"GIF89a", picture()[:500], b"\x89PNG\r\n\x1a\n" + bytes(64)])
def test_what_is_no_picture_is_none(data):
    assert small_picture(data) == b""


def test_a_picture_that_would_fill_memory_is_named_only():
    out = BytesIO()
    Image.new("1", (20_000, 10_000)).save(out, "PNG")
    assert small_picture(out.getvalue()) == b""


def test_commands_keep_list_and_write_evidence(asked, tmp_path, capsys):
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(picture(40, 30))
    asked.job.close()
    job = ["--job", asked.place, "--by", "Mira"]
    assert main([*job, "answer", "BASE", "Q1", "the milled one", "--evidence", str(photo)]) == 0
    assert (
        main([*job, "measure", "TURN-BASE", "edge/left", "2.8 ±0.1 mm feeler", "--evidence", str(photo)]) == 0
    )
    assert main([*job, "evidence", "BASE", str(photo)]) == 0
    capsys.readouterr()
    assert main([*job, "evidence"]) == 0
    assert [line.split(" (")[0] for line in capsys.readouterr().out.splitlines()] == [
        "BASE: photo.jpg",
        "BASE/Q1: photo.jpg",
        "TURN-BASE/edge/left: photo.jpg",
    ]
    assert main([*job, "--json", "evidence", "BASE/Q1", "-o", str(tmp_path / "out")]) == 0
    assert json.loads(capsys.readouterr().out)["files"] == ["001-photo.jpg"]
    assert main([*job, "--json", "show", "BASE"]) == 0
    assert [e["address"] for e in json.loads(capsys.readouterr().out)["evidence"]] == ["BASE", "BASE/Q1"]
    for files in ([str(tmp_path / "none.jpg")], [str(tmp_path)], [str(photo), str(photo)]):
        assert main([*job, "evidence", "BASE", *files]) in (2, 3)
    said = capsys.readouterr().err
    assert "No such file" in said
    assert "it is a folder" in said
    assert "two files are called photo.jpg" in said


def test_nothing_is_recorded_where_the_evidence_cannot_be_read(asked, capsys):
    asked.job.close()
    before = asked.open().job.seal()
    asked.job.close()
    words = ["answer", "BASE", "Q1", "yes", "--evidence", "nowhere.jpg"]
    assert main(["--job", asked.place, "--by", "Mira", *words]) == 3
    assert "nowhere.jpg" in capsys.readouterr().err
    assert asked.open().job.seal() == before
