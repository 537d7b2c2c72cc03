"""Keys that come faster than the screens can take them are lost nowhere, and go where they were meant."""

from __future__ import annotations

import asyncio

import pytest
from test_screens import shown
from textual import events
from textual.app import App
from textual.widgets import Input

from tui.entry_windows import Passphrase

TYPED = "correct horse battery"


def typed_at_once(*lines, new):
    """All keys in one go, as a terminal hands over what was typed ahead: nothing is awaited between them."""
    taken = []

    class Plain(App[None]):
        signs = None

    async def play():
        app = Plain()
        async with app.run_test(size=(80, 24)) as pilot:
            window = Passphrase("Mira", new=new)
            app.push_screen(window, taken.append)
            await pilot.pause()
            for line in lines:
                for character in line:
                    app.post_message(events.Key("space" if character == " " else character, character))
                app.post_message(events.Key("enter", "\r"))
            for _ in range(6):
                await pilot.pause(0.05)
            if window.is_attached and not taken:
                taken.append((shown(app), [field.value for field in window.query(Input)]))

    asyncio.run(play())
    return taken


@pytest.mark.parametrize("times", range(5))
def test_a_new_passphrase_typed_twice_without_waiting_is_taken_whole(times):
    assert typed_at_once(TYPED, TYPED, new=True) == [TYPED]


def test_one_passphrase_typed_without_waiting_is_taken_whole():
    assert typed_at_once(TYPED, new=False) == [TYPED]


def test_two_that_differ_are_typed_again_from_the_first_field():
    ((screen, fields),) = typed_at_once(TYPED, TYPED.upper(), new=True)
    assert "the two entries differ" in screen
    assert fields == ["", ""]
