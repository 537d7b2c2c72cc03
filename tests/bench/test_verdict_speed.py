"""How long a verdict takes: a rich part, and a whole job, both cold and after one change. Numbers are printed."""

from __future__ import annotations

import os
import resource
import time

import pytest
from many_parts import DAY, PLATE, grid_of_holes

from ledger.acts.base import make
from ledger.acts.connections import RecordConnection
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup, RecordPart, TakeProfile
from ledger.domain.shape import Contour, Hole, Profile
from ledger.fit.likeness import likeness_of
from ledger.job import Job
from ledger.profile.read import READER_VERSION, geometry_bytes, geometry_digest
from ledger.profile.write import write_dxf

pytestmark = pytest.mark.bench
HOLES, DIMENSIONS, CONNECTIONS = 400, 50, 12
PARTS = int(os.environ.get("FITUP_BENCH_PARTS", "2000"))
EACH = 3  # every part is bolted to the next three: 6,000 connections
BOLTS = ((20.0, 20.0), (90.0, 20.0), (20.0, 70.0), (90.0, 70.0))


@pytest.fixture
def say(capsys):
    def out(text):
        with capsys.disabled():
            print(text)  # noqa: T201 - the numbers are what a bench is for

    return out


def record(job, facts, number, profile):
    job._do(facts, make(RecordPart, number=number, title=f"plate {number}", **PLATE), "Mira")
    data = write_dxf(profile.outline, (), ())  # judging reads the geometry that was kept, not the file again
    taken = {
        "dxf": job.store.keep(facts, data),
        "geometry_file": job.store.keep(facts, geometry_bytes(profile)),
        "geometry": geometry_digest(profile),
        "likeness": likeness_of(profile).written,
    }
    named = {"number": number, "file_name": f"{number}.dxf", "unit": "mm", "unit_stated": False}
    job._do(facts, make(TakeProfile, reader=READER_VERSION, **named, **taken), "Mira")


def group(job, facts, number, name, labels):
    job._do(facts, make(NameGroup, number=number, name=name, labels=tuple(labels)), "Mira")


def bolt(job, facts, one, other):
    plies = ({"part": one[0], "group": one[1]}, {"part": other[0], "group": other[1]})
    bolts = {"connection_kind": "bolted", "joint": "through", "fastener": "M8", "plies": plies}
    job._do(facts, make(RecordConnection, name=f"{one[0]}-{other[0]}", **bolts), "Mira")


def plate(width, height, places):
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    holes = tuple(Hole(f"H{k}", (p,), 9.0) for k, p in enumerate(places, 1))
    return Profile(outline, holes, outlines=(outline,), unit_declared="mm", layers=("cut",))


def start(place):
    return Job.start(str(place), "Pier mount", lambda _name: "", lambda: DAY)


def opened(place):
    return Job(str(place), lambda _name: "", lambda: DAY)


def timed(work):
    began = time.perf_counter()
    done = work()
    return time.perf_counter() - began, done


def test_a_part_of_50_dimensions_12_connections_and_400_holes(tmp_path, say):
    place = tmp_path / "rich.db"
    job = start(place)
    big = grid_of_holes(HOLES)
    with job._writing() as facts:
        record(job, facts, "BIG", big)
        for k in range(DIMENSIONS):
            measured_on = {"measured_on": f"diameter H{k + 1}", "nominal": "9 mm", "limits": "±0.2"}
            job._do(facts, make(RecordDimension, number="BIG", name=f"bore {k}", **measured_on), "Mira")
        for k in range(CONNECTIONS):
            held = big.holes[k * 24 : k * 24 + 8]
            group(job, facts, "BIG", f"g{k}", [h.label for h in held])
            places = [
                (h.centre[0] - held[0].centre[0] + 20, h.centre[1] - held[0].centre[1] + 60) for h in held
            ]
            record(job, facts, f"LUG{k:02}", plate(1200.0 + 5 * k, 200.0, places))
            group(job, facts, f"LUG{k:02}", "bolts", [f"H{n}" for n in range(1, 9)])
            bolt(job, facts, (f"LUG{k:02}", "bolts"), ("BIG", f"g{k}"))
    job.close()
    job = opened(place)
    cold, (first,) = timed(lambda: job.verdicts(["BIG"]))
    looked = job.judging.outcomes.looked
    job.do(make(RecordDimension, number="BIG", name="bore 7", nominal="9 mm", limits="±0.1"), by="Mira")
    changed, (second,) = timed(lambda: job.verdicts(["BIG"]))
    again = job.judging.outcomes.looked - looked
    job.close()
    job = opened(place)
    later, _ = timed(lambda: job.verdicts(["BIG"]))
    job.close()
    say(
        f"\n{HOLES} holes, {DIMENSIONS} dimensions, {CONNECTIONS} connections: cold {cold:.2f} s ({looked} checks), "
        f"after one changed dimension {changed * 1000:.0f} ms ({again} checks), "
        f"in another sitting {later * 1000:.0f} ms"
    )
    assert first.subject != second.subject
    assert again < looked / 4
    assert changed < cold / 4


def test_a_job_of_2000_parts_and_6000_connections(tmp_path, say):
    place = tmp_path / "job.db"
    job = start(place)
    took = time.perf_counter()
    numbers = [f"P{k:04}" for k in range(PARTS)]
    with job._writing() as facts:
        for k, number in enumerate(numbers):
            record(job, facts, number, plate(110.0 + k % 50 * 3, 90.0 + k // 50 * 3, BOLTS))
            group(job, facts, number, "bolts", ["H1", "H2", "H3", "H4"])
    with job._writing() as facts:
        for k, number in enumerate(numbers):
            for step in range(1, EACH + 1):
                bolt(job, facts, (number, "bolts"), (numbers[(k + step) % PARTS], "bolts"))
    job.close()
    say(f"\nbuilt in {time.perf_counter() - took:.0f} s")
    job = opened(place)
    cold, first = timed(lambda: [s.verdict for s in job.each_verdict(numbers)])
    looked = job.judging.outcomes.looked
    job.write_part("P0007", {"thickness": "12 mm"}, by="Mira")
    changed, second = timed(lambda: [s.verdict for s in job.each_verdict(numbers)])
    again = job.judging.outcomes.looked - looked
    job.close()
    job = opened(place)
    one, _ = timed(lambda: job.verdicts([numbers[PARTS // 2]]))
    later, _ = timed(lambda: [s.verdict for s in job.each_verdict(numbers)])
    job.close()
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    kept = sum(f.stat().st_size for f in (tmp_path / "cache").glob("*.sqlite")) / 1e6
    say(
        f"{PARTS} parts, {PARTS * EACH} connections: whole and cold {cold:.1f} s ({looked} checks), after one change "
        f"{changed:.1f} s ({again} checks); in another sitting one part {one:.2f} s, whole {later:.1f} s; "
        f"kept {kept:.1f} MB, memory {most:.0f} MB"
    )
    differ = sum(a.subject != b.subject for a, b in zip(first, second, strict=True))
    assert differ == 1 + 2 * EACH
    assert again < looked / 4
    assert changed < cold / 3
