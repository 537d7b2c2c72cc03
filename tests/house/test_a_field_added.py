"""
A fact of a part that is added in one place comes up everywhere that facts of parts do.

The field is added while the program runs: to `ledger.domain.fields`, and nowhere else.
"""

from __future__ import annotations

import io
import json
from types import SimpleNamespace

import pytest
from pypdf import PdfReader

from ledger.acts.parts import NewRevision
from ledger.cli import main
from ledger.domain import fields
from ledger.domain.errors import UnknownName
from ledger.job import Job
from tui.part_row import PartView
from tui.part_rows import rows_of
from tui.signs import signs_for

PALLET = fields.PartField(
    "pallet",
    "the pallet that it goes on",
    typed=False,
    papers=(fields.SHEET, fields.RECORD, fields.CUT_LIST, fields.REPORT),
)


@pytest.fixture
def add(monkeypatch):
    """Add a field, in its one place."""

    def added(field):
        monkeypatch.setattr(fields, "PART_FIELDS", (*fields.PART_FIELDS, field))

    monkeypatch.setenv("FITUP_BY", "Mira")
    return added


def on_pallet(bench, words="the low pallet"):
    bench.job.write_part("BASE", {"pallet": words}, by="Mira")


def pdf_words(data):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_without_the_field_it_is_refused(bench):
    with pytest.raises(Exception, match="pallet"):
        on_pallet(bench)


def test_it_is_asked_for_and_shown_on_the_command_line(bench, add, capsys):
    add(PALLET)
    place = ["--job", bench.place]
    assert main(["part", "BASE", "--pallet", "the low pallet", *place]) == 0
    capsys.readouterr()
    assert main(["show", "BASE", "--json", *place]) == 0
    assert json.loads(capsys.readouterr().out)["pallet"] == "the low pallet"
    assert main(["show", "BASE", *place]) == 0
    shown = capsys.readouterr().out
    assert "the low pallet" in shown
    assert "unconnected        no" in shown
    assert not {"True", "False", "None"} & set(shown.split())
    assert bench.job.part("BASE").title == "plate"


def test_it_is_a_row_of_the_part_screen(bench, add):
    add(PALLET)
    on_pallet(bench)
    (verdict,) = bench.job.verdicts(["BASE"])
    view = PartView(bench.job.part("BASE"), verdict, bench.job.connections())
    found = [
        row
        for row in rows_of(SimpleNamespace(theme_variables={}), signs_for({}), view)
        if (row.kind, row.name) == ("field", "pallet")
    ]
    assert [str(row.text).split(None, 1) for row in found] == [["pallet", "the low pallet"]]


def test_it_stands_on_the_papers(bench, add):
    add(PALLET)
    on_pallet(bench)
    assert "the low pallet" in pdf_words(bench.job.sheet("BASE"))
    assert "the low pallet" in bench.job.report().decode()
    bench.lock("BASE", "TURN")
    assert "the low pallet" in pdf_words(bench.job.record("BASE"))
    assert "the low pallet" in pdf_words(bench.job.sheet("BASE"))
    assert "pallet    the low pallet" in cut_list(bench)


def cut_list(bench):
    from zipfile import ZipFile

    _name, packet, _dxf = bench.job.packet("BASE")
    with ZipFile(io.BytesIO(packet)) as kept:
        return "".join(kept.read(n).decode() for n in kept.namelist() if n.endswith(".txt"))


def test_a_change_of_it_is_told_and_voids_a_signature(bench, add):
    add(PALLET)
    on_pallet(bench)
    bench.sign_all("BASE", "TURN")
    assert "role_missing" not in bench.codes("BASE")
    on_pallet(bench, "the high pallet")
    assert "role_missing" in bench.codes("BASE")
    told = [change.words for change in bench.job.changes_since("BASE", "Mira").changes]
    assert told == ["pallet: the low pallet -> the high pallet"]


def test_one_that_does_not_count_leaves_signatures(bench, add):
    from dataclasses import replace

    add(replace(PALLET, counts=False))
    bench.sign_all("BASE", "TURN")
    on_pallet(bench)
    assert bench.job.part("BASE").said == (("pallet", "the low pallet"),)
    assert "role_missing" not in bench.codes("BASE")


def test_it_goes_on_into_the_next_revision_and_is_undone(bench, add):
    add(PALLET)
    on_pallet(bench)
    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="BASE", reason="wider")
    assert fields.value_of(bench.job.part("BASE"), "pallet") == "the low pallet"
    on_pallet(bench, "the high pallet")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert fields.value_of(bench.job.part("BASE"), "pallet") == "the low pallet"


def test_it_goes_out_and_comes_in_again(bench, add, tmp_path):
    add(PALLET)
    on_pallet(bench)
    bench.job.export(tmp_path / "out")
    with Job.bring_in(str(tmp_path / "in.db"), tmp_path / "out", lambda _name: "") as again:
        assert again.part("BASE") == bench.job.part("BASE")
        assert fields.value_of(again.part("BASE"), "pallet") == "the low pallet"
        assert again.verify() == ()


def test_a_name_that_is_no_field_names_those_that_are(bench, add):
    from ledger.acts.base import make
    from ledger.acts.parts import ChangePart

    add(PALLET)
    with pytest.raises(UnknownName, match="palet"):
        make(ChangePart, number="BASE", said={"palet": "the low one"})
