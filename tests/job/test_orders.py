"""Orders: only what is locked goes out, only its own files; what comes back is counted piece by piece."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta

import pytest
from bench_job import PASSPHRASE
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from small_job import edit

from ledger.acts.orders import CancelOrder
from ledger.acts.parts import NewRevision, RecordPart
from ledger.acts.vendors import RecordVendor
from ledger.cli import main
from ledger.domain.errors import BadInput, Tampered
from ledger.domain.order import Order, OrderLine, Receipt
from ledger.job import Job
from ledger.store.tables import LockFact
from ledger.words.orders import by_urgency, order_line, overdue_lines, receipt_line


@pytest.fixture
def locked(bench):
    """Both plates locked, and a vendor with a lead of ten working days."""
    bench.lock("BASE", "TURN")
    bench.do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10)
    return bench


def ordered(bench, ident="O1", parts=None, **fields):
    parts = {"BASE": None, "TURN": 3} if parts is None else parts
    return bench.job.record_order(ident=ident, vendor="Kerf & Son", parts=parts, by="Mira", **fields)


def test_an_order_takes_the_newest_locked_revision_the_recorded_quantity_and_the_vendors_lead(locked):
    locked.do(NewRevision, number="BASE", reason="wider")
    ordered(locked)
    (order,) = locked.job.orders()
    assert order.lines == (OrderLine("BASE", "A", 2), OrderLine("TURN", "A", 3))
    assert (order.sent, order.due) == ("2026-03-02", "2026-03-16")  # a Monday, and ten working days on
    assert order.state("2026-03-16") == "due 2026-03-16"
    assert order.state("2026-03-17") == "OVERDUE since 2026-03-16"
    assert list(overdue_lines([order], "2026-03-17")) == [
        "order O1 is overdue since 2026-03-16: 2 x BASE A, 3 x TURN A from Kerf & Son"
    ]
    assert locked.job.verify() == ()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"parts": {"CLAMP": 1}}, "CLAMP revision A is not locked"),
        ({"parts": {"BOLT": 1}}, "BOLT revision A is not cut by a vendor"),
        ({"parts": {"NOTHING": 1}}, "no part 'NOTHING'"),
        ({"parts": {"BASE": -1}}, "quantity"),
        ({"due": "2026-03-01"}, "no earlier day"),
        ({"due": "2026-02-30"}, "not a date"),
        ({"parts": {}}, "lines"),
    ],
)
def test_an_order_that_cannot_be_is_refused_and_nothing_recorded(locked, fields, said):
    locked.do(RecordPart, number="CLAMP", title="clamp", form="cut")
    locked.do(RecordPart, number="BOLT", title="eye bolt", form="bought")
    with pytest.raises(BadInput, match=said):
        ordered(locked, **fields)
    assert locked.job.orders() == ()


def test_an_order_is_not_changed_but_canceled_with_a_reason(locked):
    ordered(locked)
    with pytest.raises(BadInput, match="there is an order O1 already"):
        ordered(locked)
    locked.do(CancelOrder, ident="O1", reason="sent twice")
    (order,) = locked.job.orders()
    assert order.missing == ()
    assert not order.overdue("2027-01-01")
    for act in (lambda: locked.do(CancelOrder, ident="O1", reason="again"), lambda: received(locked, BASE=1)):
        with pytest.raises(BadInput, match="is canceled"):
            act()
    with pytest.raises(BadInput, match="is canceled"):
        locked.job.write_order("O1", locked.folder / "o1")
    assert not (locked.folder / "o1").exists()


def received(bench, ident="O1", state="", **parts):
    bench.job.record_receipt(ident=ident, parts=parts, state=state, by="Mira")


def test_pieces_are_numbered_on_over_all_orders_of_a_part(locked):
    ordered(locked)
    received(locked, BASE=1, TURN=2, state="one edge scratched")
    ordered(locked, "O2", {"BASE": 4})
    received(locked, "O2", BASE=3)
    received(locked, BASE=1)
    first, second = locked.job.orders()
    assert [r.pieces for r in first.receipts] == [("BASE#1",), ("TURN#1", "TURN#2"), ("BASE#5",)]
    assert [r.pieces for r in second.receipts] == [("BASE#2", "BASE#3", "BASE#4")]
    assert first.missing == (OrderLine("TURN", "A", 1),)
    assert first.receipts[0].state == "one edge scratched"
    assert locked.job.verify() == ()


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"TURN": 4}, "4 pieces of TURN: 3 were ordered; record 3 here"),
        ({"PIER": 1}, "no part of order O1 'PIER'"),
        ({"TURN": 0}, "count"),
        ({"TURN": -2}, "count"),
    ],
)
def test_more_than_was_ordered_and_what_was_not_is_refused(locked, parts, said):
    ordered(locked)
    with pytest.raises(BadInput, match=said):
        received(locked, **parts)
    with pytest.raises(BadInput, match="no order 'O7'"):
        received(locked, "O7", BASE=1)
    with pytest.raises(BadInput, match="was sent on 2026-03-02"):
        locked.job.record_receipt(ident="O1", parts={"BASE": 1}, day="2026-03-01", by="Mira")
    assert locked.job.orders()[0].receipts == ()


def test_the_folder_of_an_order_holds_its_own_drawings_byte_for_byte_and_no_others(locked, capsys):
    ordered(locked, parts={"TURN": 3})
    names = locked.job.write_order("O1", locked.folder / "o1")
    assert names == ("TURN-A_S275_10mm.dxf", "TURN-A_S275_10mm.pdf", "order.csv", "order.pdf")
    assert {p.name for p in (locked.folder / "o1").iterdir()} == set(names)
    cut = (locked.folder / "o1" / names[0]).read_bytes()
    _, _, packed = locked.job.packet("TURN")
    assert cut in packed.values()
    assert locked.job.guard(locked.folder / "o1").may_go
    (row,) = csv.DictReader(io.StringIO((locked.folder / "o1" / "order.csv").read_text(encoding="utf-8")))
    assert (row["part"], row["revision"], row["pieces"], row["file"]) == ("TURN", "A", "3", names[0])
    text = " ".join(PdfReader(locked.folder / "o1" / "order.pdf").pages[0].extract_text().split())
    assert "3 are ordered; its sheet names 2. The order counts." in text
    assert row["SHA-256"] in text.replace(" ", "")
    with pytest.raises(BadInput):
        locked.job.write_order("O1", locked.folder / "o1")


def test_nothing_of_an_order_is_written_where_a_drawing_is_not_what_was_locked(locked):
    ordered(locked)
    with locked.job.store.reading() as facts:
        digest = facts.get_one(LockFact, ("BASE", "A")).dxf
    edit(
        locked.place,
        f"UPDATE kept_file SET data = CAST(data || 'x' AS BLOB) WHERE sha256 = '{digest}'",
        guards=False,
    )
    with pytest.raises(Tampered, match="was changed"):
        locked.job.write_order("O1", locked.folder / "o1")
    assert not (locked.folder / "o1").exists()


def test_orders_go_out_and_come_in(locked, tmp_path):
    ordered(locked, reference="4711", price="120 EUR")
    received(locked, BASE=2)
    before = locked.job.orders()
    locked.job.export(tmp_path / "exported")
    with Job.bring_in(
        str(tmp_path / "b.db"), tmp_path / "exported", lambda _n: PASSPHRASE, locked.clock
    ) as again:
        assert again.orders() == before
        assert again.verify() == ()


def test_the_commands_record_write_list_receive_and_tell_what_is_overdue(locked, capsys, monkeypatch):
    base = ["--job", locked.place, "--by", "Mira"]
    line = "O1 to Kerf & Son: BASE, TURN 3; sent 2026-01-05; due 2026-01-19; ref 4711; price 120 EUR"
    assert main([*base, "order", line, "-o", str(locked.folder / "o1")]) == 0
    assert "6 files in" in capsys.readouterr().out
    assert main([*base, "--json", "receive", "O1: BASE 2; one edge scratched; on 2026-01-12"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["pieces"] == ["BASE#1", "BASE#2"]
    assert told["order"]["overdue"] is True
    assert main([*base, "order"]) == 0
    assert "O1 to Kerf & Son: in part received, OVERDUE since 2026-01-19" in capsys.readouterr().out
    assert main([*base, "next"]) == 0
    assert capsys.readouterr().out.startswith(
        "order O1 is overdue since 2026-01-19: 3 x TURN A from Kerf & Son\n"
    )
    assert main([*base, "order", "O1"]) == 0
    assert "2026-01-12: BASE#1..BASE#2, one edge scratched (Mira)" in capsys.readouterr().out
    assert main([*base, "order", "O2"]) == 2
    assert main([*base, "order", "O1", "--cancel", "vendor closed"]) == 0
    assert main([*base, "next"]) == 0
    assert "overdue" not in capsys.readouterr().out


WORD = st.text("ABCXYZ0123456789-", min_size=1, max_size=8).filter(lambda t: t.strip("-"))
PARTS = st.dictionaries(WORD, st.integers(1, 999), min_size=1, max_size=5)
DAY = st.integers(0, 900).map(lambda n: (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(n)).date().isoformat())


@given(ident=WORD, parts=PARTS, due=DAY, reference=st.text("abc123 /", max_size=12).map(str.strip))
def test_an_order_as_its_line_reads_as_what_was_meant(ident, parts, due, reference):
    listed = ", ".join(f"{part} {count}" for part, count in parts.items())
    ref = f"; ref {reference}" if reference else ""
    fields = order_line(f"{ident} to Kerf & Son: {listed}; due {due}{ref}").fields
    assert (fields["ident"], fields["vendor"], fields["parts"]) == (ident, "Kerf & Son", parts)
    assert (fields["due"], fields.get("reference", "")) == (due, reference)


@given(ident=WORD, parts=PARTS, day=DAY, state=st.sampled_from(["", "one bent", "on time, dry", "on hold"]))
def test_a_receipt_as_its_line_reads_as_what_was_meant(ident, parts, day, state):
    listed = ", ".join(f"{part} {count}" for part, count in parts.items())
    fields = receipt_line(f"{ident}: {listed}{f'; {state}' if state else ''}; on {day}").fields
    assert (fields["ident"], fields["parts"], fields["day"]) == (ident, parts, day)
    assert fields.get("state", "") == state


@given(st.lists(st.tuples(st.sampled_from(["", "2026-03-01", "2026-04-01"]), st.booleans()), max_size=6))
def test_open_orders_come_first_by_the_day_they_are_due(drawn):
    made = [
        Order(
            f"O{k}",
            "Kerf & Son",
            "2026-01-01",
            due,
            (OrderLine("BASE", "A", 1),),
            receipts=(Receipt("BASE", "A", 1, 1, "2026-02-01", "", "Mira"),) if done else (),
        )
        for k, (due, done) in enumerate(drawn)
    ]
    told = by_urgency(made)
    assert sorted(o.ident for o in told) == sorted(o.ident for o in made)
    states = [bool(o.missing) for o in told]
    assert states == sorted(states, reverse=True)
    dues = [o.due or "9999" for o in told if o.missing]
    assert dues == sorted(dues)
