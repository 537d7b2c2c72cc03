"""Names and texts that would steer a terminal, a table or a page, through every way out that a job has."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest
from bench_job import PASSPHRASE
from pypdf import PdfReader

from ledger.cli import main
from ledger.job import Job

WORDS = "\x1b]0;owned\x07 =1+1 <script>alert(1)</script> &amp; ../../etc \u202eegg\u202c \r\n@cmd %PDF"
STEERS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@pytest.fixture
def hostile(bench, tmp_path, monkeypatch):
    (tmp_path / "pass").write_text(PASSPHRASE)
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", str(tmp_path / "pass"))
    monkeypatch.chdir(tmp_path)
    for number in ("BASE", "TURN"):
        bench.job.write_part(number, {"title": f"plate {WORDS}", "note": f"note {WORDS}"}, by="=cmd <b> ../x")
    bench.lock("BASE", "TURN")
    (key,) = bench.job.keys("Jonas")
    bench.job.change_key("Jonas", retires=key.key, new=PASSPHRASE, reason=WORDS, by="Mira")
    (next((tmp_path / "out").glob("*/BASE*.dxf"))).rename(tmp_path / "out" / "a\x1b[2J <b>.dxf")
    return bench


@pytest.mark.parametrize(
    "words",
    [
        ["journal"],
        ["parts"],
        ["show", "BASE"],
        ["verdict", "BASE"],
        ["people"],
        ["key", "Jonas"],
        ["verify"],
        ["guard", "out"],
        ["changes", "BASE"],
        ["export", "x\x1b[2J.zip"],
        ["backup", "x\x1b[2J.db"],
        ["guard", "none\x1b[2J"],
        ["start", WORDS, "--job", "new\x1b[2J.db"],
    ],
    ids=lambda words: words[0],
)
def test_nothing_that_steers_a_terminal_comes_out_of_a_command(hostile, capsys, words):
    where = [] if "--job" in words else ["--job", hostile.place]
    main([*where, *words])
    said = capsys.readouterr()
    assert said.out + said.err
    assert not STEERS.search(said.out + said.err)
    main([*where, "--json", *words])
    json.loads(capsys.readouterr().out)


def test_files_that_leave_hold_no_markup_formula_or_path_of_the_words(hostile, tmp_path):
    with Job(hostile.place, lambda _n: PASSPHRASE) as job:
        report = job.report().decode()
        picture = job.picture("BASE").decode()
        name, _data, files = job.packet("BASE")
        export = job.export(tmp_path / "whole")
    assert export
    for text in (report, picture):
        assert "<script>alert" not in text
        assert not STEERS.search(text.replace("\n", ""))
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+", n) for n in (name, *files))
    import zipfile

    with zipfile.ZipFile(next((tmp_path / "out").glob("*.zip"))) as packet:
        cells = packet.read("cut-list.csv").decode()
    assert not re.search(r'(^|,)"?[=@+]', cells, re.MULTILINE)
    assert all(
        ".." not in Path(p).parts for p in (q.relative_to(tmp_path) for q in (tmp_path / "whole").rglob("*"))
    )


PAPER = (
    "(unclosed \\) 𝔘 😀 e\u0301 \u202eegg " + "W" * 300 + " /JavaScript (app.alert(1)) \x1b[2J endobj %%EOF"
)
ACTIVE = (b"/JavaScript", b"/JS", b"/OpenAction", b"/Launch", b"/URI", b"/EmbeddedFile", b"/SubmitForm")


def test_papers_show_hostile_words_as_words_inside_the_page_and_do_nothing(bench):
    for number in ("BASE", "TURN"):
        bench.job.write_part(number, {"title": PAPER, "note": PAPER, "coating": "paint"}, by="Mira")
    bench.lock("BASE", "TURN")
    for data in (bench.job.sheet("BASE"), bench.job.record("BASE")):
        assert not [word for word in ACTIVE if word in data]
        assert data.count(b"%%EOF") == 1
        reader = PdfReader(io.BytesIO(data))
        assert not [
            key for key in ("/Names", "/AcroForm", "/OpenAction", "/AA") if key in reader.trailer["/Root"]
        ]
        text = "".join(page.extract_text() for page in reader.pages)
        assert "unclosed \\)" in " ".join(text.split())
        assert not STEERS.search(text.replace("\n", ""))
        assert not any("/Annots" in page for page in reader.pages)
        assert STEERS.search(" ".join(map(str, (reader.metadata or {}).values()))) is None
        for page in reader.pages:
            assert all(0 <= right <= float(page.mediabox.width) for right in _right_ends(page))


def _right_ends(page):
    """Where each run of text begins, and about where it ends: half its size a character, as lettered narrow."""
    ends = []

    def seen(text, _matrix, place, _font, size):
        if text.strip():
            ends.append(place[4] + 0.4 * float(size) * len(text.strip()))

    page.extract_text(visitor_text=seen)
    return ends
