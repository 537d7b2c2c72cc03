"""
The form of every one-line entry: its shape with names in capitals, and an example that reads.

The hint on a screen, the help of a command and the message of a line that is refused take it from here. Nothing is
imported, so that `--help` answers at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Form:
    """`shape` names what comes where, `example` is a line that reads, `more` what else may be said."""

    shape: str
    example: str
    more: str = ""

    @property
    def hint(self) -> str:
        """The whole form on one line."""
        behind = f"   ({self.more})" if self.more else ""
        return f"{self.shape}   e.g. {self.example}{behind}"


PART: Final = Form("NUMBER FORM TITLE", "ARM-L cut Fork arm, left", "form: cut, site, bought")
STOCK: Final = Form(
    "MATERIAL, THICKNESS, PROCESS, QUANTITY",
    "S275, 12 mm, laser, 1",
    "in any order; any of them may be left out",
)
DIMENSION: Final = Form(
    "NAME = NOMINAL LIMITS[, SOURCE][, on WHAT]",
    "w = 3/16 in ±0.01, measured ±0.005 in caliper",
    "also frozen, critical; what is left out stays as it was",
)
GROUP: Final = Form(
    "GROUP = HOLES", "bolts = H1 H2 H3 H4", "on a bent part also, at the end: from GROUP or HOLE"
)
OPERATION: Final = Form(
    "HOLES: OPERATION THREAD", "H1 H2: tapped M8", "plain, tapped, countersunk, reamed, captive nut"
)
TRIED: Final = Form("RESULT: NOTE", "fits: S2 is tight", "fits, does not fit; the note may be left out")
BEND: Final = Form(
    "BENDS: ANGLE up or down, R RADIUS, K FACTOR",
    "B1 B2: 90 deg up, R 3 mm, K 0.44",
    "or allowance …, deduction …; ±0.5 mm",
)
BEND_DATA: Final = Form(
    "VENDOR: THICKNESS of MATERIAL, R RADIUS, K FACTOR",
    "Kerf & Son: 3 mm of S235, R 3 mm, K 0.44",
    "vendor as named where a drawing was taken",
)
VENDOR: Final = Form(
    "VENDOR: PROCESSES; lead DAYS; WEEKDAYS; off DAYS",
    "Kerf & Son: laser; lead 10 days; Mon..Fri; off 2027-12-24..2027-12-31",
    "lead in working days of the vendor; what is left out has its default, Mon..Fri",
)
HARDWARE: Final = Form(
    "COUNT ITEM SIZE x LENGTH",
    "12 bolt M8 x 30 mm",
    "bolt, countersunk screw, stud, dowel pin; without a length: nut, captive nut, washer",
)
ORDER: Final = Form(
    "ORDER to VENDOR: PART PIECES, PART PIECES; due DAY; ref TEXT; price TEXT",
    "O1 to Kerf & Son: BASE 2, TURN 1; due 2027-05-17; ref 4711",
    "pieces left out: as many as are recorded; due left out: the vendor's lead; also sent DAY",
)
RECEIPT: Final = Form(
    "ORDER: PART PIECES, PART PIECES; STATE; on DAY",
    "O1: BASE 2, TURN 1; one edge scratched; on 2027-05-14",
    "day left out: today",
)
SCHEDULE: Final = Form(
    "by DAY   or   PART after PART, PART",
    "ARM-L after BASE, TURN",
    "DAY is when everything must be here, 2027-05-01; after: these must be here before it goes out; 'nothing' ends it",
)
PIECE: Final = Form(
    "PIECE: HOLE = DIAMETER at X Y, DIMENSION = VALUE; ±U INSTRUMENT",
    "BASE#1: H1 = 13.62 mm at 20.1 mm 19.9 mm, width = 200.1 mm; ±0.05 mm caliper",
    "diameter or place may be left out; at the end, if it is: coated",
)
LAYERS: Final = Form(
    "LAYER=ROLE, LAYER=ROLE",
    "BEND=bend, TXT=ignore for Kerf & Son",
    "cut, mark, bend, ignore; for VENDOR remembers it",
)
HOLE: Final = Form(
    "LABEL = X, Y, DIAMETER, ±UNCERTAINTY, SOURCE", "S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured"
)
POINT: Final = Form(
    "LABEL, DIAMETER, left of P1 P2   or   LABEL at X, Y, Z ±U with INSTRUMENT", "P3, 12 mm, left of P1 P2"
)
DISTANCE: Final = Form(
    "P1 P2 READINGS INSTRUMENT", "P1 P2 1532 1533 mm tape", "warm work: at 30C; or P1 P2 removed: WHY"
)
QUESTION: Final = Form(
    "QUESTION; holds up PART or CONNECTION; depends on WHAT; needed by YYYY-MM-DD",
    "which face is up?; holds up TURN; depends on BASE/Q2, PIER; needed by 2027-05-01",
)
LINKS: Final = Form(
    "holds up PART or CONNECTION; depends on Q2, BASE/Q2, PART or CONNECTION/CLEARANCE; needed by YYYY-MM-DD",
    "holds up TURN; depends on BASE/Q2, PIER; needed by 2027-05-01",
)
INSTRUMENT: Final = Form(
    "NAME = KIND, calibrated YYYY-MM-DD, then what is known",
    "caliper 7 = caliper, calibrated 2026-01-31, resolution 0.01 mm, limit 0.02 mm, 12 months",
    "in place of limit: standard 0.01 mm, or class II of a tape",
)
CONNECTION: Final = Form(
    "NAME: KIND FASTENER JOINT, PART GROUP on PART GROUP",
    "BASE-PIER: bolted M16 stud, BASE studs on PIER",
    "part also as PART:GROUP:FACE; then: turned over, either way up, at X Y ANGLE, also M6 dowel PINS on PINS, "
    "gap >= 2 mm; of a weld: arrow side, weld class B, holes jigged",
)
BOLT: Final = Form("LENGTH, WASHERS", "40 mm, 2 washers", "both, or one of them")
CLEARANCE: Final = Form("NAME: BOUNDS", "arm to cover: >= 3 mm", "at the end, where it is: critical")
READING: Final = Form(
    "READINGS INSTRUMENT", "1.8 ±0.1 mm feeler", "if the parts were warm or cold, add: at 30C"
)
PERMIT: Final = Form(
    "REASON[, up to VALUE][, until YYYY-MM-DD]", "cut wider on site, up to 240.5 mm, until 2027-06-30"
)
PERSON: Final = Form("NAME: ROLES", "Mira: drawn, checked", "roles: drawn, checked, approved, keeper")
CHANGED_ROLES: Final = Form("ROLES: REASON", "drawn, keeper: both agreed", "or retired: REASON")
ROLES: Final = Form("ROLES", "drawn, checked", "drawn, checked, approved")
RAISED: Final = Form("CODES", "thin_web close_holes", "codes separated by spaces; stops stay stops")
KEY: Final = Form(
    "retire KEY from ENTRY, add: REASON",
    "retire 5e1f from 38, add: laptop lost",
    "either may be left out, the reason may not",
)


@dataclass(frozen=True, slots=True)
class LineAct:
    """
    An act that is entered as one line, on the command line and on the screen of a part alike.

    `act` is the name of its class, `reader` reads the line ("trials.trial_line" of `ledger.words`), `before` is the
    field that stands before it, with a sample. `help` says what is entered, `done` what was recorded; `asks` is what
    the screen asks, with the name of what stands before the line.
    """

    form: Form
    act: str
    reader: str
    help: str
    done: str
    asks: str
    before: tuple[str, str] = ("number", "BASE")


LINE_ACTS: Final[dict[str, LineAct]] = {
    "tried": LineAct(
        TRIED,
        act="RecordTrial",
        reader="trials.trial_line",
        help="what came of the paper template of a part, laid on what is there",
        done="the trial is recorded",
        asks="template of {}, laid on what is there",
    ),
}
