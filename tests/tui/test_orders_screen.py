"""Orders, vendors and hardware from the screens: sent, written, received, canceled, counted."""

from __future__ import annotations

import pytest
from test_screens import choose, flat, on_screens, press, write
from textual.widgets import Input

from tui.orders_screen import OrdersScreen

SIZES = ((80, 24), (120, 40))
VENDOR = "Kerf & Son: laser; lead 10 days; Mon..Fri"


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


@pytest.mark.parametrize("size", SIZES)
def test_an_order_is_sent_written_and_received_from_the_first_screen(bench, size, monkeypatch):
    monkeypatch.chdir(bench.folder)
    bench.lock("BASE", "TURN")

    async def script(app, pilot):
        await press(pilot, "O")
        assert isinstance(app.screen, OrdersScreen)
        assert "none sent yet" in flat(app)
        choose(app, "record a vendor")
        await press(pilot, "enter")
        await write(pilot, VENDOR)
        assert VENDOR in flat(app)
        await press(pilot, "n")
        await write(pilot, "O1 to Kerf & Son: BASE, TURN 3; sent 2026-03-02; ref 4711")
        assert "O1 to Kerf & Son: OVERDUE since 2026-03-16" in flat(app)
        choose(app, "O1 to")
        await press(pilot, "enter", "enter")
        assert app.screen.query_one(Input).value == "O1: BASE 2, TURN 3"
        await write(pilot, "O1: BASE 1, TURN 3; one edge scratched")
        assert "in part received" in flat(app)
        choose(app, "O1 to")
        await press(pilot, "enter", "down", "enter")
        await write(pilot, "o1")
        assert (bench.folder / "o1" / "order.pdf").exists()
        choose(app, "O1 to")
        await press(pilot, "enter", "enter")
        await write(pilot, "O1: BASE 2")
        assert "2 were ordered, 1 came before" in flat(app)

    on_screens(bench.place, script, size=size)
    (order,) = bench.job.orders()
    assert [r.pieces for r in order.receipts] == [("BASE#1",), ("TURN#1", "TURN#2", "TURN#3")]


def test_an_order_is_canceled_with_a_reason_and_an_overdue_one_stands_first(bench):
    bench.lock("BASE", "TURN")
    bench.job.enter("RecordVendor", by="Mira", name="Kerf & Son", processes=("laser",))
    for ident, due in (("O1", "2027-01-01"), ("O2", "2026-01-15")):
        parts = {"BASE": 1}
        fields = {"ident": ident, "vendor": "Kerf & Son", "parts": parts, "sent": "2026-01-05", "due": due}
        bench.job.record_order(by="Mira", **fields)

    async def script(app, pilot):
        await press(pilot, "O")
        words = flat(app)
        assert words.index("O2 to") < words.index("O1 to")
        assert "OVERDUE since 2026-01-15" in words
        choose(app, "O2 to")
        await press(pilot, "enter", "down", "down", "enter")
        await write(pilot, "vendor closed")
        assert "canceled: vendor closed" in flat(app)

    on_screens(bench.place, script)
    assert {o.ident: o.canceled for o in bench.job.orders()} == {"O1": "", "O2": "vendor closed"}


def test_hardware_is_counted_taken_off_and_written(bench, monkeypatch):
    monkeypatch.chdir(bench.folder)

    async def script(app, pilot):
        await press(pilot, "O")
        assert "bolt M12 x 40 mm" in flat(app)
        choose(app, "nut M12")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == "8 nut M12"
        await write(pilot, "5 nut M12")
        assert "3 nut M12 (8 needed, 5 on hand)" in " ".join(flat(app).split())
        await press(pilot, "w")
        await write(pilot, "h.txt")
        assert "expected a name that ends .csv or .pdf" in " ".join(flat(app).split())
        await press(pilot, "escape", "w")
        await write(pilot, "h.csv")
        assert "3,nut,M12,,8,0,5,TURN-BASE" in (bench.folder / "h.csv").read_text(encoding="utf-8")

    on_screens(bench.place, script, size=(120, 40))


def test_pieces_are_measured_and_the_schedule_is_kept_from_the_screen(bench, monkeypatch):
    monkeypatch.chdir(bench.folder)
    bench.lock("BASE", "TURN")
    bench.job.enter("RecordVendor", by="Mira", name="Kerf & Son", processes=("laser",), lead_days=10)
    bench.job.record_order(by="Mira", ident="O1", vendor="Kerf & Son", parts={"TURN": 2})
    bench.job.record_receipt(by="Mira", ident="O1", parts={"TURN": 2})
    holes = bench.job.part("TURN").holes
    at = ", ".join(f"{h.label} = 13.5 mm at {h.centre[0]} mm {h.centre[1]} mm" for h in holes)

    async def script(app, pilot):
        await press(pilot, "O")
        assert "TURN#1 not known" in " ".join(flat(app).split())
        choose(app, "TURN#1")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value.startswith("TURN#1: ")
        await write(pilot, f"TURN#1: {at}; ±0.02 mm caliper")
        assert "TURN#1 fits" in " ".join(flat(app).split())
        choose(app, "inspection sheet of TURN")
        await press(pilot, "enter")
        await write(pilot, "t.pdf")
        assert (bench.folder / "t.pdf").exists()
        choose(app, "enter the day of the job")
        await press(pilot, "enter")
        await write(pilot, "by 2030-05-01")
        assert "everything here by 2030-05-01" in flat(app)
        choose(app, "BASE  ")
        await press(pilot, "enter")
        await write(pilot, "BASE after TURN")
        assert "after TURN" in flat(app)

    on_screens(bench.place, script, size=(120, 40))
    assert bench.job.schedule().day == "2030-05-01"
