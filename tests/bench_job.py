"""A real job in a real file, with short words for what tests do to it."""

from __future__ import annotations

from ledger.acts.base import make
from ledger.acts.connections import RecordConnection
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup
from ledger.domain.shape import Contour, Hole, Stroke
from ledger.job import Job
from ledger.profile.write import write_dxf

CORNERS = ((20.0, 20.0), (180.0, 20.0), (180.0, 80.0), (20.0, 80.0))
PASSPHRASE = "correct horse"
PLATE = {"title": "plate", "material": "S275", "thickness": "10 mm", "process": "laser", "quantity": 2}


def plate_dxf(points=CORNERS, diameter=13.5, width=200.0, height=100.0):
    """A rectangular plate with round holes, as the bytes of a DXF."""
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    return write_dxf(outline, tuple(Hole("", (p,), diameter) for p in points), ())


def bent_dxf(stations=(30.0, 70.0), width=200.0, height=100.0, points=()):
    """A rectangular plate with a bend line from edge to edge at each station along its height."""
    outline = Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))
    lines = [Stroke(((0.0, y, 0.0), (width, y, 0.0)), "BEND") for y in stations]
    return write_dxf(outline, tuple(Hole("", (p,), 9.0) for p in points), (), bends=lines)


class Bench:
    """A job with its place, so that it can be closed, tampered with and opened again."""

    def __init__(self, folder, clock, place=None):
        self.folder, self.clock = folder, clock
        self.place = place or str(folder / "fitup.db")
        self.job = None

    @classmethod
    def started(cls, folder, clock, people=("Mira", "Jonas"), place=None):
        made = cls(folder, clock, place)
        made.job = Job.start(made.place, "Pier mount", lambda _name: PASSPHRASE, clock)
        for name in people:
            made.job.enroll(name, ("drawn", "checked", "approved"), PASSPHRASE)
        return made

    def open(self):
        self.job = Job(self.place, lambda _name: PASSPHRASE, self.clock)
        return self

    def reopen(self):
        self.job.close()
        return self.open().job

    def plate(self, number, dxf=None, **fields):
        self.job.write_part(number, {**PLATE, "etched": number, **fields}, by="Mira")
        self.job.take_profile(number, f"{number}.dxf", dxf or plate_dxf(), by="Mira")
        labels = tuple(h.label for h in self.job.part(number).holes)
        self.do(NameGroup, number=number, name="bolts", labels=labels)

    def two_plates(self):
        for number in ("BASE", "TURN"):
            self.plate(number)
            self.do(
                RecordDimension,
                number=number,
                name="width",
                nominal="200 mm",
                limits="±0.2",
                measured_on="width",
            )
            self.do(
                RecordDimension,
                number=number,
                name="height",
                nominal="100 mm",
                limits="±0.2",
                measured_on="height",
            )
        self.connection()

    def connection(self, name="TURN-BASE", **fields):
        plies = ({"part": "TURN", "group": "bolts"}, {"part": "BASE", "group": "bolts"})
        whole = {"connection_kind": "bolted", "plies": plies, "joint": "through", "fastener": "M12", **fields}
        self.do(RecordConnection, name=name, **whole)

    def do(self, kind, **fields):
        return self.job.do(make(kind, **fields), by="Mira")

    def policy(self, **fields):
        return self.job.set_policy(by="Mira", **fields)

    def sign_all(self, *numbers):
        for person, role in (("Mira", "drawn"), ("Jonas", "checked")):
            self.job.sign(numbers, role, person, {})

    def lock(self, *numbers):
        self.sign_all(*numbers)
        return self.job.lock(numbers, "Jonas", self.folder / "out")

    def codes(self, number):
        (verdict,) = self.job.verdicts([number])
        return {s.code for s in verdict.stops}
