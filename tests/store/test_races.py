"""
Processes at once on one shop: exactly one wins what only one can have, nobody loses anything, losers are told.

FITUP_ROUNDS multiplies the rounds.
"""

from __future__ import annotations

import os
import sys
import time

import pytest
from faulty import forked_all
from small_shop import PASSPHRASE, ask

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision, RecordPart
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import FitupError
from ledger.keeping import examine
from ledger.packet.inspect import inspect
from ledger.shop import Shop
from ledger.store.journal import now

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are forked here")
ROUNDS = int(os.environ.get("FITUP_ROUNDS", "1"))
WON, LOST, BROKEN = 10, 11, 99


@pytest.fixture
def raced(place):
    with Shop.start(place, "Pier mount", ask, now) as shop:
        shop.enrol("Mira", ("drawn", "checked", "approved"), PASSPHRASE)
        for number in ("STUD", "NUT"):
            shop.do(
                make(RecordPart, number=number, title="stud", form="bought", quantity=4, stands_alone=True),
                by="Mira",
            )
            shop.do(make(RecordDimension, number=number, name="length", nominal="40 mm"), by="Mira")
    return place


def at_once(place, start, work):
    """What one process does: open, wait for the others, try."""

    def run():
        with Shop(place, ask) as shop:
            shop._signer("Mira")
            time.sleep(max(0.0, start - time.time()))
            try:
                work(shop)
            except FitupError as told:
                return LOST if "nothing" in str(told) or "locked" in str(told) else BROKEN
            return WON

    return run


def together(place, *works):
    start = time.time() + 0.15 + 0.06 * len(works)
    return forked_all([at_once(place, start, work) for work in works])


@pytest.mark.parametrize(("seats", "rounds"), [(2, 4), (4, 2), (16, 1)])
def test_one_of_many_seats_locks(raced, tmp_path, seats, rounds):
    for k in range(rounds * ROUNDS):
        with Shop(raced, ask) as shop:
            if k:
                shop.do(make(NewRevision, number="STUD", reason="again"), by="Mira")
            shop.sign(["STUD"], "checked", "Mira", {})
        works = [lambda shop, n=n: shop.lock(["STUD"], "Mira", tmp_path / f"out{n}") for n in range(seats)]
        ended = together(raced, *works)
        assert sorted(ended) == [WON] + [LOST] * (seats - 1)
        packets = [p for n in range(seats) for p in (tmp_path / f"out{n}").glob("*.zip")]
        assert len(packets) == k + 1
        assert not list(tmp_path.rglob("*.part"))
    seen = examine(raced)
    assert seen.whole
    with Shop(raced, ask) as shop:
        assert sum(e.kind == "lock" for e in shop.journal()) == rounds * ROUNDS
        assert all(shop.holds(inspect(p.read_bytes()).head) for p in packets)


@pytest.mark.parametrize("seats", [2, 4, 16])
def test_nothing_that_many_seats_record_at_once_is_lost(raced, seats):
    def record(n):
        def work(shop):
            for k in range(3 * ROUNDS):
                shop.do(make(AskQuestion, number="STUD", ident=f"Q{n}.{k}", text="which?"), by=f"seat {n}")

        return work

    before = examine(raced).entries
    assert together(raced, *map(record, range(seats))) == [WON] * seats
    seen = examine(raced)
    assert (seen.whole, seen.entries) == (True, before + seats * 3 * ROUNDS)
    with Shop(raced, ask) as shop:
        assert len(shop.part("STUD").questions) == seats * 3 * ROUNDS


def test_a_lock_while_others_edit_and_sign_holds_what_was_signed_or_is_refused(raced, tmp_path):
    """The edit comes before, and the signature no longer counts; or after, and is refused. Nothing between."""
    for k in range(3 * ROUNDS):
        with Shop(raced, ask) as shop:
            if k:
                shop.do(make(NewRevision, number="NUT", reason="again"), by="Mira")
            shop.sign(["NUT"], "checked", "Mira", {})
        ended = together(
            raced,
            lambda shop: shop.lock(["NUT"], "Mira", tmp_path / "out"),
            lambda shop, k=k: shop.write_part("NUT", {"note": f"edit {k}"}, by="Mira"),
            lambda shop: shop.sign(["STUD"], "checked", "Mira", {}),
        )
        assert ended[2] == WON
        assert sorted(ended[:2]) == [WON, LOST]
        with Shop(raced, ask) as shop:
            locked = shop.part("NUT").locked
            assert locked == (ended[0] == WON)
            assert (shop.part("NUT").note == f"edit {k}") == (ended[1] == WON)
            if not locked:
                shop.sign(["NUT"], "checked", "Mira", {})
                shop.lock(["NUT"], "Mira", tmp_path / "out")
    assert examine(raced).whole
