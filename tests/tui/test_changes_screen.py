"""What changed, on the screens: before somebody signs, and on a screen of its own."""

from __future__ import annotations

import asyncio

import pytest
from test_screens import flat as shown
from test_screens import settle
from textual.widgets import OptionList, Static

from ledger.acts.parts import NewRevision
from tui.app import Fitup
from tui.changes_screen import ChangesScreen
from tui.part_screen import PartScreen
from tui.sign_screen import SignScreen
from tui.signs import PLAIN, RICH

BOTH = ("BASE", "TURN")


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def on_screen(bench, screen, script, *, size=(80, 24), signs=RICH):
    async def play():
        app = Fitup(str(bench.place), signs)
        async with app.run_test(size=size) as pilot:
            await settle(pilot)
            app.push_screen(screen)
            await settle(pilot)
            await script(app, pilot)

    asyncio.run(play())


async def press(pilot, *keys):
    await pilot.press(*keys)
    await settle(pilot)


def since(app):
    return str(app.screen.query_one("#since", Static).render())


def test_before_signing_it_says_who_never_signed(bench):
    async def script(app, pilot):
        assert "Jonas never signed TURN before" in since(app)
        assert "Jonas never signed TURN before" in shown(app)

    on_screen(bench, SignScreen(("TURN",)), script)


def test_before_signing_it_tells_what_changed_for_the_person_under_the_cursor(bench):
    bench.job.sign(BOTH, "drawn", "Mira", {})
    bench.job.write_part("TURN", {"material": "S355 [/bold]"}, by="Mira")

    async def script(app, pilot):
        assert "Jonas never signed BASE before" in since(app)
        listed = app.screen.query_one(OptionList)
        rows = [str(listed.get_option_at_index(i).prompt) for i in range(listed.option_count)]
        await press(pilot, *["down"] * next(i for i, row in enumerate(rows) if "Mira" in row))
        assert "Mira signed TURN A as drawn on 2026-03-02: 1 changed since" in since(app)
        assert "material: S275 -> S355 [/bold]" in since(app)
        assert "Mira signed BASE A as drawn on 2026-03-02: 1 changed since" in since(app)
        assert "partner's interface TURN-BASE/TURN" in since(app)

    on_screen(bench, SignScreen(BOTH), script, size=(120, 40))


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_with_much_changed_the_fingerprint_and_the_offers_stay_in_view(bench, size):
    bench.sign_all(*BOTH)
    for k in range(30):
        bench.job.write_part("TURN", {"note": f"note {k}"}, by="Mira")
    bench.job.write_part(
        "TURN", {"material": "S355", "title": "t", "coating": "zinc", "quantity": 9}, by="Mira"
    )

    async def script(app, pilot):
        assert "fingerprint" in shown(app)
        assert "5 changed since" in shown(app)
        assert "Jonas signs as drawn" in shown(app)
        assert "? Help" in shown(app)

    on_screen(bench, SignScreen(("TURN",)), script, size=size)


def test_a_failing_comparison_leaves_signing_as_it_is(bench, monkeypatch):
    def fail(_job, *_words):
        raise RuntimeError("cannot look back [/oops]")

    monkeypatch.setattr("ledger.job.Job.changes_since", fail)

    async def script(app, pilot):
        assert "cannot look back [/oops]" in shown(app)
        assert "Jonas signs as drawn" in shown(app)

    on_screen(bench, SignScreen(("TURN",)), script)


def test_c_on_a_part_opens_its_changes_and_escape_comes_back(bench):
    async def script(app, pilot):
        await press(pilot, "C")
        assert isinstance(app.screen, ChangesScreen)
        assert "TURN A is the first revision" in shown(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, PartScreen)

    on_screen(bench, PartScreen("TURN"), script)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("signs", [RICH, PLAIN])
def test_each_step_is_a_row_and_its_changes_are_below(bench, size, signs):
    bench.lock(*BOTH)
    bench.do(NewRevision, number="TURN", reason="stronger")
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")

    async def script(app, pilot):
        listed = app.screen.query_one(OptionList)
        rows = [str(listed.get_option_at_index(i).prompt) for i in range(listed.option_count)]
        assert [row.split()[0] for row in rows] == ["Jonas", "Mira", "TURN", "TURN"]
        await press(pilot, "down", "down")
        assert "TURN A to B: 2 changed" in shown(app)
        assert "material: S275 -> S355" in shown(app)
        await press(pilot, "down")
        assert "material" not in shown(app)

    on_screen(bench, ChangesScreen("TURN"), script, size=size, signs=signs)
