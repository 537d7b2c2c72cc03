"""A job of very many plates, written as acts in few transactions: neighbours are bolted together in pairs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

from ledger.acts.base import make
from ledger.acts.connections import RecordConnection
from ledger.acts.parts import NameGroup, RecordPart, TakeProfile
from ledger.acts.questions import AskQuestion
from ledger.domain.shape import Contour, Hole, Profile
from ledger.job import Job
from ledger.profile.read import READER_VERSION, geometry_bytes, geometry_digest
from ledger.profile.write import write_dxf

DAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PLATE = {"material": "S275", "thickness": "10 mm", "process": "laser", "quantity": 1}
_BATCH = 500


def plate_of(pair: int) -> Profile:
    """A rectangular plate with four to eight holes; every pair has a size of its own."""
    count = 4 + pair % 5
    width, height = 200.0 + pair % 97, 100.0 + pair % 53
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    places = [
        (20.0 + (k // 2) * (width - 40) / 3, 20.0 if k % 2 else height - 20 - pair / 1e4)
        for k in range(count)
    ]
    holes = tuple(Hole(f"H{k + 1}", (p,), 13.5) for k, p in enumerate(places))
    return Profile(outline, holes, outlines=(outline,), unit_declared="mm", layers=("cut",))


def grid_of_holes(count: int) -> Profile:
    """One big plate with so many holes."""
    across = round(count**0.5 * 1.4)
    places = [(20.0 + 20 * (k % across), 20.0 + 20 * (k // across)) for k in range(count)]
    width, height = 20.0 * (across + 1), 20.0 * (count // across + 2)
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    holes = tuple(Hole(f"H{k + 1}", (p,), 9.0) for k, p in enumerate(places))
    return Profile(outline, holes, outlines=(outline,), unit_declared="mm", layers=("cut",))


def build(place: str, parts: int, *, connections: bool = True, big: int = 0) -> None:
    """A new job at `place` with so many parts, a connection for every two, and a plate of `big` holes in front."""
    job = Job.start(place, "Pier mount, every plate", lambda _name: "", lambda: DAY)
    if big:
        with job._writing() as facts:
            _record(job, facts, "A0000-GRID", grid_of_holes(big))
    for first in range(0, parts, _BATCH):
        with job._writing() as facts:
            for k in range(first, min(first + _BATCH, parts)):
                _record(job, facts, f"P{k:04d}", plate_of(k // 2), questions=k % 7 == 0)
                if connections and k % 2:
                    _connection(job, facts, f"P{k - 1:04d}", f"P{k:04d}")
    job.close()


def _record(job, facts, number, profile, *, questions=False):
    job._do(facts, make(RecordPart, number=number, title=f"plate {number[1:]} of the pier", **PLATE), "Mira")
    data = _file(len(profile.holes))
    taken = make(
        TakeProfile,
        number=number,
        file_name=f"{number}.dxf",
        dxf=job.store.keep(facts, data),
        geometry_file=job.store.keep(facts, geometry_bytes(profile)),
        geometry=geometry_digest(profile),
        unit="mm",
        unit_stated=False,
        reader=READER_VERSION,
    )
    job._do(facts, taken, "Mira")
    job._do(
        facts, make(NameGroup, number=number, name="bolts", labels=[h.label for h in profile.holes]), "Mira"
    )
    if questions:
        job._do(facts, make(AskQuestion, number=number, ident="Q1", text="which side is up?"), "Mira")


@cache
def _file(holes: int) -> bytes:
    """Bytes of a file with so many holes: judging reads the geometry that was kept, not the file again."""
    drawn = plate_of(holes - 4) if holes <= 8 else grid_of_holes(holes)
    return write_dxf(drawn.outline, tuple(replace(h, label="") for h in drawn.holes), ())


def _connection(job, facts, first, second):
    plies = ({"part": first, "group": "bolts"}, {"part": second, "group": "bolts"})
    job._do(
        facts,
        make(
            RecordConnection,
            name=f"{first}-{second}",
            connection_kind="bolted",
            plies=plies,
            joint="through",
            fastener="M12",
        ),
        "Mira",
    )
