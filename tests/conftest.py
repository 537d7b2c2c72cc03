"""Fixtures for every room: keys in a folder of the test's own, a fixed clock, and a small shop to work on."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from bench_shop import Bench


@pytest.fixture(autouse=True)
def _own_surroundings(tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "cache"))
    for name in ("FITUP_SHOP", "FITUP_BY", "FITUP_PASSPHRASE_FILE"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def clock():
    """A clock that moves one second at each look, from a fixed start."""
    start = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    looks = iter(range(1_000_000))
    return lambda: start + timedelta(seconds=next(looks))


@pytest.fixture
def bench(tmp_path, clock):
    """A shop with two people, two plates and a bolted mate; nothing signed."""
    made = Bench(tmp_path, clock)
    made.two_plates()
    yield made
    made.shop.close()
