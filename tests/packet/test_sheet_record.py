"""The papers of a real shop: the sheet that leaves with a lock, the record that stays, the commands that write them."""

from __future__ import annotations

import hashlib
import json
import zipfile
from datetime import date

import pytest
from packet_samples import plate
from sheet_samples import dimension, pages, printed, words

from ledger.acts.mates import RequireClearance
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.packet.inspect import inspect
from ledger.packet.record_sheet import Permitted, Record, Signature, shop_record

SAYS = Finding("edge_distance", "H2 is 9 mm from the edge", "warning", "PL-101/H2")
VERDICT = Verdict(
    "PL-101", "A", "f" * 64, (), (SAYS,), (), (Finding("tight", "too tight"),), ("the weather",)
)


def record(**changes):
    whole = {
        "owner": "Pier mount shop",
        "part": plate(dimensions=(dimension(critical=True), dimension(name="rib", limits="min", bound=""))),
        "verdict": VERDICT,
        "lock_head": f"9:{'ab' * 32}",
        "locked_at": "2026-03-02T10:00:00Z",
        "locked_by": "Jonas Feld",
        "head": f"11:{'cd' * 32}",
        "unchanged": True,
        "signatures": (
            Signature("Mira Holm", "checked", "2026-03-02T09:00:00Z", "I compared this", 7, self_check=True),
        ),
        "permits": (
            Permitted("tight", "", "the vendor agreed", "2026-04-01", "Jonas Feld", "2026-03-01T08:00:00Z"),
        ),
    }
    return Record(**(whole | changes))


def test_a_record_says_who_signed_what_was_permitted_and_what_was_found():
    said = words(shop_record(record()))
    for wanted in (
        "SHOP RECORD PL-101 A Pier plate",
        f"entry of the lock 9:{'ab' * 32}",
        f"journal head now 11:{'cd' * 32}",
        "locked 2026-03-02T10:00:00Z by Jonas Feld",
        "checked, self-checked",
        "2026-03-02T09:00:00Z I compared this 7",
        "the vendor agreed 2026-04-01 Jonas Feld",
        "warning edge_distance PL-101/H2 H2 is 9 mm from the edge",
        "permitted tight too tight",
        "the weather",
        "licensed engineer",
    ):
        assert wanted in said, wanted


def test_the_inspection_table_has_limits_and_an_empty_actual_column():
    data = shop_record(record())
    said = words(data)
    assert "dimension nominal, limits from, to in mm Actual with, by, when" in said
    assert (
        "width (critical) 300 mm +0.2/-0.1 mm 299.9 to 300.2 rib 300 mm min >= 300 hole H1 14 mm, drawn"
        in said
    )
    placed = printed(data)
    (actual,) = (x for x, *_, text in placed if text == "Actual")
    (key,) = (y for _, y, *_, text in placed if text == "width (critical)")
    assert not any(x >= actual and abs(y - key) < 1 for x, y, *_ in placed)


def test_a_record_whose_facts_have_changed_since_says_so():
    assert "CHANGED since the lock" in words(shop_record(record(unchanged=False)))
    assert "CHANGED" not in words(shop_record(record()))


def test_a_long_record_goes_on_over_pages_that_are_numbered():
    keys = tuple(dimension(name=f"size {k} <i>") for k in range(150))
    data = shop_record(record(part=plate(dimensions=keys)), paper="letter")
    assert len(pages(data)) > 2
    for number, page in enumerate(pages(data), start=1):
        assert f"page {number}" in page.extract_text()
    assert all(f"size {k} <i>" in words(data) for k in range(150))
    assert all(y >= 10 for _, y, *_ in printed(data))


def test_the_same_record_gives_the_same_bytes():
    assert shop_record(record()) == shop_record(record())


def test_a_lock_puts_the_sheet_into_the_packet_and_leaves_the_record_out(bench):
    released = bench.lock("BASE", "TURN")
    data = released.packet.read_bytes()
    assert inspect(data).ok
    with zipfile.ZipFile(released.packet) as held:
        names = held.namelist()
        sheet = held.read("sheets/BASE-A.pdf")
    assert {"sheets/BASE-A.pdf", "sheets/TURN-A.pdf"} <= set(names)
    assert not any("record" in name for name in names)
    lock = next(e for e in bench.shop.journal() if e.kind == "lock")
    assert lock.act["contents"]["sheets/BASE-A.pdf"] == hashlib.sha256(sheet).hexdigest()
    said = words(sheet)
    assert lock.act["parts"][0]["subject"] in said
    assert f"journal head before the lock {lock.act['head']}" in said
    assert "creator Mira approval person Jonas, checked" in said
    assert f"date of issue {date.fromisoformat(lock.at[:10])}" in said
    assert "PREVIEW" not in said


def test_the_record_of_a_locked_part_is_what_was_locked(bench):
    bench.do(RequireClearance, mate="TURN-BASE", name="under the rib", required=">= 2 mm")
    bench.shop.measure("TURN-BASE", "under the rib", "2.4 ±0.1 mm feeler", by="Mira")
    released = bench.lock("BASE", "TURN")
    said = words(bench.shop.record("BASE"))
    (verdict,) = bench.shop.verdicts(["BASE"])
    assert f"entry of the lock {released.head}" in said
    assert "mates and clearances below are those that were locked" in said
    assert "under the rib >= 2 mm 2.4 mm ± 0.1 mm (U) feeler, Mira, 2026-03-02" in said
    (fits,) = (f for f in verdict.notes if f.code == "fits")
    assert fits.measured in said
    assert fits.message in said
    assert "drawn Mira" in said
    assert "checked Jonas" in said
    assert f"journal head now {list(bench.shop.journal())[-1].seq}:" in said


def test_a_later_measurement_shows_in_the_record_as_a_change(bench):
    bench.do(RequireClearance, mate="TURN-BASE", name="under the rib", required=">= 2 mm")
    bench.shop.measure("TURN-BASE", "under the rib", "2.4 ±0.1 mm feeler", by="Mira")
    bench.lock("BASE", "TURN")
    bench.shop.measure("TURN-BASE", "under the rib", "2.9 ±0.1 mm feeler", by="Mira")
    assert "CHANGED since the lock" in words(bench.shop.record("BASE"))


def test_an_open_part_has_no_record(bench):
    with pytest.raises(UnknownName, match="locked revision"):
        bench.shop.record("BASE")


def test_a_mate_is_drawn_with_both_plies_and_an_unknown_name_is_refused(bench):
    assert b"TURN-BASE" in bench.shop.picture("TURN-BASE")
    assert b"BASE A" in bench.shop.picture("BASE")
    with pytest.raises(UnknownName, match="TURN-BASE"):
        bench.shop.picture("TURN-BAS")


def test_a_mate_with_an_undrawn_ply_cannot_be_drawn(bench):
    bench.shop.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    bench.mate("ON-PIER", plies=({"part": "TURN", "group": "bolts"}, {"part": "PIER"}))
    with pytest.raises(BadInput, match="two plies, both with a drawing"):
        bench.shop.picture("ON-PIER")


@pytest.mark.parametrize(
    ("command", "name", "start"),
    [
        ("picture", "BASE", b"<svg"),
        ("picture", "TURN-BASE", b"<svg"),
        ("sheet", "BASE", b"%PDF"),
        ("record", "BASE", b"%PDF"),
    ],
)
def test_each_command_writes_its_file(bench, capsys, command, name, start):
    bench.lock("BASE", "TURN")
    out = bench.folder / "paper.out"
    assert main([command, name, "-o", str(out), "--shop", bench.place, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert out.read_bytes().startswith(start)
    assert said["size"] == out.stat().st_size


def test_the_sheet_by_command_is_a_preview_even_of_a_locked_part(bench, tmp_path):
    bench.lock("BASE", "TURN")
    out = tmp_path / "sheet.pdf"
    assert main(["sheet", "BASE", "--paper", "letter", "-o", str(out), "--shop", bench.place]) == 0
    assert "do not cut" in words(out.read_bytes())


def test_a_command_that_is_refused_writes_no_file(bench, tmp_path, capsys):
    out = tmp_path / "record.pdf"
    assert main(["record", "BASE", "-o", str(out), "--shop", bench.place]) == 2
    assert "locked revision" in capsys.readouterr().err
    assert not out.exists()
