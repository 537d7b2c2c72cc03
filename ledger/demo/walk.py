"""
The demo: the scenario's job made, judged, signed, locked and verified, through the same verbs that people use.

Each step has an intended outcome; `as_intended` is whether all of them came out so.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ledger.acts.base import make
from ledger.acts.connections import RecordConnection, RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup, RecordHole, RecordOperation
from ledger.acts.questions import AskQuestion
from ledger.demo import scenario
from ledger.domain.errors import BadInput, NotReleasable
from ledger.domain.program import DEMO_FIRM
from ledger.domain.verdict import Verdict
from ledger.job import Job
from ledger.packet.inspect import inspect
from ledger.profile.write import write_dxf
from ledger.words.verdicts import in_short

Say = Callable[[str], None]
DRAWER, CHECKER = "Mira Holm", "Jonas Feld"
SET = ("PIER", "BASE", "TURN", "FLANGE")
_ACROSS = ("dimension", "AXIS", "--from", "PIER:S1", "--to", "ARM-L:axis", "--along", "z")


@dataclass
class Outcome:
    """What the demo found, step by step: (what, whether it came out as intended)."""

    folder: Path
    steps: list[tuple[str, bool]] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    packet: str = ""

    @property
    def as_intended(self) -> bool:
        """Whether every step came out as intended."""
        return bool(self.steps) and all(held for _, held in self.steps)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "as_intended": self.as_intended,
            "folder": str(self.folder),
            "packet": self.packet,
            "steps": [{"step": what, "as_intended": held} for what, held in self.steps],
            "verdicts": [v.to_json() for v in self.verdicts],
        }


def run_demo(folder: Path, say: Say) -> Outcome:
    """Make and walk the demo in a folder of its own. Raises BadInput where one lies there already."""
    place = folder / "fitup.db"
    if place.exists():
        raise BadInput(f"{folder} holds a job already; name a new folder: fitup demo DIR")
    try:
        (folder / "drawings").mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"cannot make {folder}: {fault.strerror}; name another folder") from fault
    with _keys_in(folder / "keys"):
        passphrase = secrets.token_urlsafe(18)
        _keep_passphrase(folder / "keys" / "passphrase.txt", passphrase)
        job = Job.start(str(place), DEMO_FIRM, lambda _name: passphrase)
        try:
            for name in (DRAWER, CHECKER):
                job.enroll(name, ("drawn", "checked"), passphrase)
            _record(job, folder / "drawings")
            return _judge(job, folder, say)
        finally:
            job.close()


@contextmanager
def _keys_in(folder: Path) -> Iterator[None]:
    before = os.environ.get("FITUP_KEYS")
    os.environ["FITUP_KEYS"] = str(folder)
    try:
        yield
    finally:
        if before is None:
            del os.environ["FITUP_KEYS"]
        else:
            os.environ["FITUP_KEYS"] = before


def _keep_passphrase(path: Path, passphrase: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(passphrase + "\n", encoding="utf-8")
    path.chmod(0o600)


def _record(job: Job, drawings: Path) -> None:
    _record_parts(job)
    for number, drawn in scenario.drawings().items():
        file = drawings / f"{number}.dxf"
        file.write_bytes(write_dxf(drawn.outline, drawn.holes, drawn.openings, bends=drawn.bends))
        job.take_profile(number, file.name, file.read_bytes(), by=DRAWER)
    _record_holes(job)
    _record_connections(job)


def _record_parts(job: Job) -> None:
    steel = {"material": "S275", "process": "laser", "quantity": 1}
    rows: dict[str, dict[str, Any]] = {
        "PIER": {"title": "Pier top, existing concrete with cast-in studs", "form": "site"},
        "BASE": {"title": "Base plate", "thickness": "12 mm", **steel},
        "TURN": {"title": "Turntable plate", "thickness": "15 mm", **steel},
        "FLANGE": {
            "title": "Bearing flange",
            "form": "bought",
            "material": "steel",
            "thickness": "10 mm",
            "quantity": 1,
        },
        "GUSSET": {"title": "Gusset, bent", "thickness": "6 mm", **steel},
        "ARM-L": {"title": "Fork arm, left", "thickness": "10 mm", "hand": "as drawn", **steel},
        "ARM-R": {
            "title": "Fork arm, right",
            "thickness": "10 mm",
            "hand": "opposite",
            "opposite_of": "ARM-L",
            **steel,
        },
        "TIE": {"title": "Tie plate between the arms", "thickness": "10 mm", **steel},
        "HUB": {"title": "Hub of the right-hand arm", "thickness": "8 mm", **steel},
        "COVER": {"title": "Cover", "thickness": "3 mm", **steel},
    }
    for number, fields in rows.items():
        job.write_part(number, fields, by=DRAWER)


def _record_holes(job: Job) -> None:
    for label, east, north in scenario.STUDS:
        stud = {"label": label, "x": east, "y": north, "diameter": "16 mm", "uncertainty": "0.8 mm"}
        job.do(make(RecordHole, number="PIER", **stud), by=CHECKER)
    for place, (x, y) in enumerate(scenario.flange_circle(), 1):
        given = {"label": f"F{place}", "x": f"{x} mm", "y": f"{y} mm", "diameter": "9 mm", "source": "given"}
        job.do(make(RecordHole, number="FLANGE", **given), by=DRAWER)
    groups = {
        ("BASE", "studs"): scenario.base_studs(),
        ("BASE", "turntable"): scenario.bolt_circle(),
        ("TURN", "base"): scenario.bolt_circle(),
        ("TURN", "flange"): scenario.flange_circle(),
        ("TURN", "gusset"): scenario.turntable_feet(),
        ("GUSSET", "foot"): scenario.gusset_feet(),
        ("GUSSET", "left"): scenario.gusset_side(-1),
        ("GUSSET", "right"): scenario.gusset_side(1),
        ("ARM-L", "gusset"): scenario.ARM_HOLES,
        ("ARM-R", "gusset"): scenario.ARM_HOLES,
        ("ARM-L", "tie"): scenario.TIE_HOLES,
        ("ARM-R", "tie"): scenario.TIE_HOLES,
        ("TIE", "left"): scenario.tie_side(-1),
        ("TIE", "right"): scenario.tie_side(1),
        ("ARM-R", "hub"): scenario.slipped(),
        ("HUB", "arm"): scenario.HUB_HOLES,
        ("ARM-L", "axis"): (scenario.AXIS,),
    }
    for (number, name), points in groups.items():
        labels = scenario.at(job.part(number).holes, points)
        job.do(make(NameGroup, number=number, name=name, labels=labels), by=DRAWER)
    square = {"angle": "90 deg", "direction": "up", "radius": "8 mm", "k_factor": "0.42"}
    job.bend("GUSSET", ["B1"], by=DRAWER, **square)
    for thread, points in (("M8", scenario.flange_circle()), ("M10", scenario.turntable_feet())):
        tapped = scenario.at(job.part("TURN").holes, points)
        job.do(
            make(RecordOperation, number="TURN", labels=tapped, operation="tapped", thread=thread), by=DRAWER
        )
    base = scenario.at(job.part("BASE").holes, scenario.bolt_circle())
    for number, name, nominal, limits, measured_on in (
        ("BASE", "width", "420 mm", "±0.3", "width"),
        ("BASE", "across the bolt circle", "240 mm", "±0.1", f"distance {base[0]} {base[3]}"),
        ("TURN", "diameter", "320 mm", "±0.3", "width"),
    ):
        job.do(
            make(
                RecordDimension,
                number=number,
                name=name,
                nominal=nominal,
                limits=limits,
                measured_on=measured_on,
            ),
            by=DRAWER,
        )


def _record_connections(job: Job) -> None:
    def connect(name: str, kind: str, *plies: tuple[str, str, str], **fields: str) -> None:
        rows = tuple({"part": p, "group": g, "face_up": f} for p, g, f in plies)
        job.do(make(RecordConnection, name=name, connection_kind=kind, plies=rows, **fields), by=DRAWER)

    top = "top"
    connect("BASE-PIER", "bolted", ("BASE", "studs", top), ("PIER", "", top), joint="stud", fastener="M16")
    connect(
        "TURN-BASE",
        "bolted",
        ("TURN", "base", top),
        ("BASE", "turntable", top),
        joint="through",
        fastener="M12",
    )
    connect(
        "FLANGE-TURN", "bolted", ("FLANGE", "", top), ("TURN", "flange", top), joint="tapped", fastener="M8"
    )
    connect(
        "GUSSET-TURN",
        "bolted",
        ("GUSSET", "foot", top),
        ("TURN", "gusset", top),
        joint="tapped",
        fastener="M10",
    )
    for arm, side in (("ARM-L", "left"), ("ARM-R", "right")):
        m8 = {"joint": "through", "fastener": "M8"}
        connect(f"{arm}-GUSSET", "bolted", (arm, "gusset", top), ("GUSSET", side, top), **m8)
        connect(f"TIE-{arm}", "bolted", ("TIE", side, top), (arm, "tie", top), **m8)
    connect("HUB-ARM-R", "bolted", ("HUB", "arm", top), ("ARM-R", "hub", top), joint="through", fastener="M6")
    connect(
        "ARM-L-COVER",
        "passes through",
        ("ARM-L", "", "edge"),
        ("COVER", "", top),
        position="0 0 0",
        gap=">= 5 mm",
    )
    job.freeze("GUSSET-TURN", "GUSSET", by=DRAWER)
    for name, required, critical, reading in (
        ("arm to opening", ">= 3 mm", False, "1.2 ±0.1 mm feeler"),
        ("cover to arm root", ">= 2 mm", True, "2.1 ±0.3 mm tape"),
    ):
        job.do(
            make(RequireClearance, connection="ARM-L-COVER", name=name, required=required, critical=critical),
            by=DRAWER,
        )
        job.measure("ARM-L-COVER", name, reading, by=CHECKER)
    question = "Which side of the gusset does the cable tray go?"
    job.do(make(AskQuestion, number="GUSSET", ident="Q1", text=question), by=CHECKER)


def _judge(job: Job, folder: Path, say: Say) -> Outcome:
    outcome = Outcome(folder)

    def step(what: str, held: bool) -> None:
        outcome.steps.append((what, held))
        if not held:
            say(f"NOT AS INTENDED: {what}")

    def found(number: str, *codes: str) -> None:
        (verdict,) = job.verdicts([number])
        outcome.verdicts.append(verdict)
        missing = set(codes) - {s.code for s in verdict.stops}
        step(f"{number} is NO-GO with {', '.join(codes)}", not missing and not verdict.go)

    found("ARM-R", "offset")
    step("a ring of four parts does not close, though every pair of it fits", _open_ring(job))
    step("the axis of an arm is some height above the pier, with a range", _axis_mm(job) > 0)
    found("COVER", "clearance_missed", "not_proven")
    found("GUSSET", "question_open")
    step("nothing is locked before it is signed", _refused(job, folder))
    for person, role in ((DRAWER, "drawn"), (CHECKER, "checked")):
        job.sign(SET, role, person, {})
    verdicts = job.verdicts(SET)
    outcome.verdicts.extend(verdicts)
    step(
        "the set is GO, and every GO says what was not checked", all(v.go and v.not_checked for v in verdicts)
    )
    if all(v.go for v in verdicts):
        _lock(job, folder, outcome, step)
    _close(job, folder, outcome, say)
    return outcome


def _lock(job: Job, folder: Path, outcome: Outcome, step: Callable[[str, bool], None]) -> None:
    made = job.lock(SET, CHECKER, folder / "out")
    outcome.packet = str(made.packet)
    report = inspect(made.packet.read_bytes())
    step("the packet verifies by itself and against the job", report.ok and job.holds(report.seal))
    step("the job verifies", not job.verify())
    sent = sorted(made.folder.iterdir())
    step(
        "the DXF files beside it are byte for byte what was locked",
        bool(sent) and all(job.stands(f.read_bytes()).current for f in sent),
    )


def _close(job: Job, folder: Path, outcome: Outcome, say: Say) -> None:
    """What is GO, what is not and why, where the packet is, and three things to try next."""
    held = sum(held for _what, held in outcome.steps)
    say(f"{held} of {len(outcome.steps)} steps as intended: signed, locked, packet built and verified")
    for line in in_short(
        [found.verdict for found in job.each_verdict([row.number for row in job.listed().lines])]
    ):
        say(line)
    say(f"packet: {outcome.packet or 'none'}")
    fitup = f"fitup --job {folder / 'fitup.db'}"
    say(f"try next ({fitup} opens the screens, ? shows the keys):")
    say(f"  {fitup} why ARM-R offset    the sum behind the 3 mm, and every way to fix it")
    say(f"  {fitup} assembly    the ring that does not close, and the one move that closes it")
    say(f"  {fitup} {' '.join(_ACROSS)}    how high the axis is, and what its range is made of")


def _open_ring(job: Job) -> bool:
    """Whether the ring of the arms is the only one, does not close, and each of its connections fits by itself."""
    (ring,) = job.assembly()
    return not ring.closes and not ring.not_run and all(share.alone_mm > 0 for share in ring.shares)


def _axis_mm(job: Job) -> float:
    """The least height of the arm's axis above the pier."""
    _, _, _, start, _, end, _, along = _ACROSS
    return job.dimension_across(start, end, along).low


def _refused(job: Job, folder: Path) -> bool:
    try:
        job.lock(SET, CHECKER, folder / "out")
    except NotReleasable as refusal:
        return {s.code for v in refusal.verdicts for s in v.stops} == {"role_missing"}
    return False
