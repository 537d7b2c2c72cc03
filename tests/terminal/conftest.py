"""Terminals and shops for the tests in a real terminal; every window is closed at the end of its test."""

from __future__ import annotations

import shutil

import pytest
from bench_shop import PASSPHRASE, Bench
from in_tmux import Window, need_tmux

from ledger.shop import Shop
from ledger.store.journal import now


@pytest.fixture
def open_window():
    """Open windows on a folder; all of them are ended afterwards."""
    need_tmux()
    opened = []

    def make(folder, size=(80, 24), **more):
        opened.append(Window(folder, size, **more))
        return opened[-1]

    yield make
    for window in opened:
        window.close()


@pytest.fixture(scope="session")
def two_plates(tmp_path_factory):
    """A shop with two people, two plates and a bolted mate, made once; to be copied, not written to."""
    folder = tmp_path_factory.mktemp("two-plates")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        bench = Bench(folder, now)
        bench.two_plates()
        bench.shop.close()
    return folder


@pytest.fixture(scope="session")
def signed_plates(two_plates, tmp_path_factory):
    """The same with both plates signed by both people: GO, not locked."""
    folder = tmp_path_factory.mktemp("signed") / "shop"
    shutil.copytree(two_plates, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        with Shop(str(folder / "fitup.db"), lambda _name: PASSPHRASE) as shop:
            for person, role in (("Mira", "drawn"), ("Jonas", "checked")):
                shop.sign(("BASE", "TURN"), role, person, {})
    return folder


@pytest.fixture
def plates(two_plates, tmp_path):
    """A copy of the shop of two plates."""
    return shutil.copytree(two_plates, tmp_path / "shop")


@pytest.fixture
def signed(signed_plates, tmp_path):
    """A copy of the shop with everything signed."""
    return shutil.copytree(signed_plates, tmp_path / "shop")
