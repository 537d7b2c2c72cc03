"""How long a verdict takes: a rich part, and a whole shop, both cold and after one change. Numbers are printed."""

from __future__ import annotations

import os
import resource
import time

import pytest
from many_parts import DAY, PLATE, grid_of_holes

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.mates import DeclareMate
from ledger.acts.parts import NameGroup, RecordPart, TakeProfile
from ledger.domain.shape import Contour, Hole, Profile
from ledger.fit.alike import likeness_of
from ledger.profile.read import READER_VERSION, geometry_bytes, geometry_digest
from ledger.profile.write import write_dxf
from ledger.shop import Shop

pytestmark = pytest.mark.bench
HOLES, DIMENSIONS, MATES = 400, 50, 12
PARTS = int(os.environ.get("FITUP_BENCH_PARTS", "2000"))
EACH = 3  # every part is bolted to the next three: 6,000 mates
BOLTS = ((20.0, 20.0), (90.0, 20.0), (20.0, 70.0), (90.0, 70.0))


@pytest.fixture
def say(capsys):
    def out(text):
        with capsys.disabled():
            print(text)  # noqa: T201 - the numbers are what a bench is for

    return out


def record(shop, facts, number, profile):
    shop._do(facts, make(RecordPart, number=number, title=f"plate {number}", **PLATE), "Mira")
    data = write_dxf(profile.outline, (), ())  # judging reads the geometry that was kept, not the file again
    taken = {
        "dxf": shop.store.keep(facts, data),
        "geometry_blob": shop.store.keep(facts, geometry_bytes(profile)),
        "geometry": geometry_digest(profile),
        "likeness": likeness_of(profile).written,
    }
    named = {"number": number, "file_name": f"{number}.dxf", "unit": "mm", "unit_stated": False}
    shop._do(facts, make(TakeProfile, reader=READER_VERSION, **named, **taken), "Mira")


def group(shop, facts, number, name, labels):
    shop._do(facts, make(NameGroup, number=number, name=name, labels=tuple(labels)), "Mira")


def bolt(shop, facts, one, other):
    plies = ({"part": one[0], "group": one[1]}, {"part": other[0], "group": other[1]})
    bolts = {"mate_kind": "bolted", "joint": "through", "fastener": "M8", "plies": plies}
    shop._do(facts, make(DeclareMate, name=f"{one[0]}-{other[0]}", **bolts), "Mira")


def plate(width, height, places):
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    holes = tuple(Hole(f"H{k}", (p,), 9.0) for k, p in enumerate(places, 1))
    return Profile(outline, holes, outlines=(outline,), unit_declared="mm", layers=("cut",))


def start(place):
    return Shop.start(str(place), "Pier mount", lambda _name: "", lambda: DAY)


def opened(place):
    return Shop(str(place), lambda _name: "", lambda: DAY)


def timed(work):
    began = time.perf_counter()
    done = work()
    return time.perf_counter() - began, done


def test_a_part_of_50_dimensions_12_mates_and_400_holes(tmp_path, say):
    place = tmp_path / "rich.db"
    shop = start(place)
    big = grid_of_holes(HOLES)
    with shop._writing() as facts:
        record(shop, facts, "BIG", big)
        for k in range(DIMENSIONS):
            bound = {"bound": f"diameter H{k + 1}", "nominal": "9 mm", "limits": "±0.2"}
            shop._do(facts, make(RecordDimension, number="BIG", name=f"bore {k}", **bound), "Mira")
        for k in range(MATES):
            held = big.holes[k * 24 : k * 24 + 8]
            group(shop, facts, "BIG", f"g{k}", [h.label for h in held])
            places = [
                (h.centre[0] - held[0].centre[0] + 20, h.centre[1] - held[0].centre[1] + 60) for h in held
            ]
            record(shop, facts, f"LUG{k:02}", plate(1200.0 + 5 * k, 200.0, places))
            group(shop, facts, f"LUG{k:02}", "bolts", [f"H{n}" for n in range(1, 9)])
            bolt(shop, facts, (f"LUG{k:02}", "bolts"), ("BIG", f"g{k}"))
    shop.close()
    shop = opened(place)
    cold, (first,) = timed(lambda: shop.verdicts(["BIG"]))
    looked = shop.outcomes.looked
    shop.do(make(RecordDimension, number="BIG", name="bore 7", nominal="9 mm", limits="±0.1"), by="Mira")
    changed, (second,) = timed(lambda: shop.verdicts(["BIG"]))
    again = shop.outcomes.looked - looked
    shop.close()
    shop = opened(place)
    later, _ = timed(lambda: shop.verdicts(["BIG"]))
    shop.close()
    say(
        f"\n{HOLES} holes, {DIMENSIONS} dimensions, {MATES} mates: cold {cold:.2f} s ({looked} checks), "
        f"after one changed dimension {changed * 1000:.0f} ms ({again} checks), "
        f"in another sitting {later * 1000:.0f} ms"
    )
    assert first.subject != second.subject
    assert again < looked / 4
    assert changed < cold / 4


def test_a_shop_of_2000_parts_and_6000_mates(tmp_path, say):
    place = tmp_path / "shop.db"
    shop = start(place)
    took = time.perf_counter()
    numbers = [f"P{k:04}" for k in range(PARTS)]
    with shop._writing() as facts:
        for k, number in enumerate(numbers):
            record(shop, facts, number, plate(110.0 + k % 50 * 3, 90.0 + k // 50 * 3, BOLTS))
            group(shop, facts, number, "bolts", ["H1", "H2", "H3", "H4"])
    with shop._writing() as facts:
        for k, number in enumerate(numbers):
            for step in range(1, EACH + 1):
                bolt(shop, facts, (number, "bolts"), (numbers[(k + step) % PARTS], "bolts"))
    shop.close()
    say(f"\nbuilt in {time.perf_counter() - took:.0f} s")
    shop = opened(place)
    cold, first = timed(lambda: [s.verdict for s in shop.each_verdict(numbers)])
    looked = shop.outcomes.looked
    shop.write_part("P0007", {"thickness": "12 mm"}, by="Mira")
    changed, second = timed(lambda: [s.verdict for s in shop.each_verdict(numbers)])
    again = shop.outcomes.looked - looked
    shop.close()
    shop = opened(place)
    one, _ = timed(lambda: shop.verdicts([numbers[PARTS // 2]]))
    later, _ = timed(lambda: [s.verdict for s in shop.each_verdict(numbers)])
    shop.close()
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    kept = sum(f.stat().st_size for f in (tmp_path / "cache").glob("outcomes-*")) / 1e6
    say(
        f"{PARTS} parts, {PARTS * EACH} mates: whole and cold {cold:.1f} s ({looked} checks), after one change "
        f"{changed:.1f} s ({again} checks); in another sitting one part {one:.2f} s, whole {later:.1f} s; "
        f"kept {kept:.1f} MB, memory {most:.0f} MB"
    )
    differ = sum(a.subject != b.subject for a, b in zip(first, second, strict=True))
    assert differ == 1 + 2 * EACH
    assert again < looked / 4
    assert changed < cold / 3
