"""Commands about parts: names and help of the commands, nothing heavy imported."""

from __future__ import annotations

import argparse
from typing import Any

from ledger.domain import fields
from ledger.words.forms import LINE_ACTS

MEASURED_ON_HELP = (
    "width, height, 'diameter H1', 'distance H1 H2' (distance-x, distance-y), 'edge H1', 'slot-length H1', "
    "'slot-width H1', 'pitch GROUP', 'circle GROUP', 'radius X Y', 'angle X Y', area; bent 'leg B1 H1', "
    "'leg B1 B2', 'leg B1 X Y'"
)


def of_parts(add: Any) -> None:
    """The commands about a job and its people, parts and what is known of them."""
    p = add("start", "start a job")
    p.add_argument("firm", help="the company, printed as legal owner")
    p = add("enroll", "enroll a person and make their key; after the first, a keeper of the job signs (--by)")
    p.add_argument("name")
    p.add_argument(
        "--roles",
        default="",
        help="comma-separated: drawn, checked, approved, keeper (default: all but keeper)",
    )
    add("people", "who is enrolled")
    p = add("roles", "give a person other roles; signed by a keeper of the job")
    p.add_argument("name")
    p.add_argument("--roles", required=True, help="comma-separated: drawn, checked, approved, keeper")
    p.add_argument("--reason", required=True)
    p = add("retire", "retire a person, with their keys; signed by a keeper of the job")
    p.add_argument("name")
    p.add_argument("--reason", required=True)
    add("root", "the key that founded the job, to compare with packets and papers")
    p = add("part", "record a part, or change its open revision; fields not named stay as they are")
    p.add_argument("number")
    for field in fields.PART_FIELDS:
        if field.asks:
            p.add_argument(f"--{field.name.replace('_', '-')}", default=None, help=field.asks)
    p.add_argument("--unconnected", choices=("yes", "no"), help="whether it connects to nothing, on purpose")
    add("parts", "every part with its revision and verdict")
    p = add("show", "everything recorded of a part")
    p.add_argument("number")
    _take(add)
    _watch(add)
    p = add("hole", "a measured or given hole or stud of a site or bought part")
    p.add_argument("number")
    p.add_argument("label")
    p.add_argument("x", help="such as '150 mm' (write -- before negative ones)")
    p.add_argument("y")
    p.add_argument("diameter")
    p.add_argument("--uncertainty", default="", help="expanded uncertainty of its position, in any direction")
    p.add_argument(
        "--source", default="measured", help="measured (default), given, standard, calculated, assumed"
    )
    _survey(add)
    p = add("operation", "what is done to holes after cutting")
    p.add_argument("number")
    p.add_argument("labels", nargs="+", metavar="LABEL")
    p.add_argument(
        "--as", dest="operation", required=True, help="plain, tapped, countersunk, reamed, 'captive nut'"
    )
    p.add_argument("--thread", default="", help="for tapped holes and captive nuts")
    for name, one in LINE_ACTS.items():
        p = add(name, one.help)
        p.add_argument(one.before[0])
        p.add_argument("line", metavar="LINE")
    p = add("bend", "bend data of a part; without --as, what is recorded and what is assumed")
    p.add_argument("number")
    p.add_argument("labels", nargs="*", metavar="LABEL", help="B1 B2 …, as fitup bend PART shows them")
    p.add_argument(
        "--as",
        dest="words",
        default="",
        metavar="'90 deg up, R 3 mm, K 0.44'",
        help="angle turned from flat and direction; inside radius; K-factor, or allowance or deduction of a bend "
        "table; ±0.5 mm by which what is beyond may be off",
    )
    p.add_argument(
        "--remove", default="", metavar="REASON", help="remove the data of one bend, with the reason"
    )
    p = add("bend-data", "bend data of a vendor by material and thickness; without options, what is recorded")
    p.add_argument("vendor", nargs="?", default="", help="as named when a drawing was taken: take --vendor")
    p.add_argument("--material", default="")
    p.add_argument("--thickness", default="")
    p.add_argument("--radius", default="", help="inside radius")
    p.add_argument("--k", dest="k_factor", default="", help="K-factor")
    p = add(
        "vendor",
        "a vendor: processes, lead time, working days; without options, the vendors that are recorded",
    )
    p.add_argument("name", nargs="?", default="", metavar="VENDOR|LINE")
    for of in fields.VENDOR_FIELDS:
        p.add_argument(f"--{of.option}", default="", metavar=of.sample, help=of.asks)
    p = add(
        "hardware",
        "bolts, nuts, washers and pins of all connections, added up; with a line, how many of one are on hand",
    )
    p.add_argument(
        "line", nargs="?", default="", metavar="LINE", help="what is on hand, such as '12 bolt M8 x 30 mm'"
    )
    p.add_argument(
        "--spares", type=int, default=0, metavar="PERCENT", help="so many more of each (default: 0)"
    )
    p.add_argument(
        "-o", "--out", default="", metavar="FILE", help="write the list, to a name that ends .csv or .pdf"
    )
    p.add_argument("--paper", default="A4", help="of a PDF: A4 (default) or letter")
    p = add(
        "order",
        "an order of locked parts: recorded by its line, shown or written by its name; without either, how all stand",
    )
    p.add_argument("line", nargs="?", default="", metavar="ORDER|LINE")
    p.add_argument("--cancel", default="", metavar="REASON", help="the order is not to be carried out")
    p.add_argument(
        "-o",
        "--out",
        default="",
        metavar="FOLDER",
        help="write its drawings, sheets and the order to a new folder",
    )
    p.add_argument("--paper", default="A4", help="of the order: A4 (default) or letter")
    p = add("receive", "pieces of an order that came back; each gets a number of its own")
    p.add_argument("line", metavar="LINE")
    add("recall", "locked parts that were GO and would not be now: measured again, or a table has changed")
    p = add(
        "schedule",
        "when each part must go out so that all is here in time; with a line, the day, or what a part waits on",
    )
    p.add_argument("line", nargs="?", default="", metavar="LINE")
    p = add(
        "inspect",
        "the pieces of a part that came back: what they fit as built; with a line, what was measured of one",
    )
    p.add_argument("line", metavar="PART|LINE")
    p.add_argument(
        "-o", "--out", default="", metavar="FILE.pdf", help="write a sheet to measure by, with boxes"
    )
    p.add_argument("--paper", default="A4", help="of the sheet: A4 (default) or letter")
    p.add_argument(
        "--aql",
        default="",
        metavar="PERCENT",
        help="with -o: measure as many pieces as ISO 2859-1 asks for at this acceptable quality level (default: all)",
    )
    p = add("group", "name holes that belong together")
    p.add_argument("number")
    p.add_argument("name", help="or all in one line")
    p.add_argument("labels", nargs="*", metavar="LABEL")
    p.add_argument(
        "--from",
        dest="reference",
        default="",
        metavar="GROUP|HOLE",
        help="what it is placed from: bends between count",
    )
    p = add(
        "dimension",
        "record or edit a key dimension; limits, --on, --frozen and --critical stay as they are unless named",
    )
    p.formatter_class, p.epilog = argparse.RawDescriptionHelpFormatter, ACROSS
    p.add_argument("number")
    p.add_argument("name")
    p.add_argument(
        "nominal",
        help="such as '240 mm', '3/16 in', '37.5 deg', '2.5 in2'; with --source calculated a formula over other "
        "dimensions: '2*W + 3/16 in', '[bolt circle] of [ARM-L] / 2'; with --source measured a line of readings: "
        "'1.8 1.9 mm caliper', 'inside 82 outside 98 mm caliper'",
    )
    p.add_argument("--limits", default=None, help="such as ±0.1, +0.2/-0 or 239.9..240.1 mm")
    p.add_argument(
        "--source", default="given", help="given (default), measured, calculated, standard, assumed"
    )
    p.add_argument("--instrument", default="")
    p.add_argument("--uncertainty", default="", help="expanded uncertainty (default: the instrument's)")
    warm(p)
    p.add_argument("--on", dest="measured_on", default=None, help=MEASURED_ON_HELP)
    for name, words in (
        ("--frozen", "must not change from one revision to the next"),
        ("--critical", "must be proven, not only likely"),
    ):
        p.add_argument(name, action=argparse.BooleanOptionalAction, default=None, help=words)
    p = add("ask", "an open question that stops a part")
    p.add_argument("number")
    p.add_argument("ident", help="a short name, such as Q1")
    p.add_argument("text")
    _links(p)
    p = add("link", "replace what a question holds up, what it depends on and when it is needed")
    p.add_argument("number")
    p.add_argument("ident")
    p.add_argument(
        "line", nargs="?", default="", metavar="LINE", help="all of it in one line, without options"
    )
    _links(p)
    p = add("answer", "answer an open question")
    p.add_argument("number")
    p.add_argument("ident")
    p.add_argument("text")
    kept_beside(p)
    p = add(
        "evidence", "keep photographs and papers with a part, a question, a reading or an order; list them"
    )
    p.add_argument(
        "address",
        nargs="?",
        default="",
        metavar="WHAT",
        help="BASE, BASE/Q1, TURN-BASE/edge (the reading of a clearance), O1; left out: everything",
    )
    p.add_argument(
        "files", nargs="*", metavar="FILE", help="files to keep; without any, what is kept is listed"
    )
    p.add_argument("-o", "--out", default="", metavar="FOLDER", help="write what is kept to a new folder")
    p = add("revise", "start a new revision from the locked one")
    p.add_argument("number")
    p.add_argument("--reason", required=True)


ACROSS = """\
across parts, worked out and not recorded:
  fitup dimension TOP --from BASE:H1 --to ARM-L:H1 --along x
  (a hole, or a hole group by its middle; along x or y of the first part's drawing, z for heights of upper faces;
  without --along straight)"""
TAKE = """\
fitup take PART FILE        the drawing of one part that is recorded already. This is meant where there are two words
                            and the first neither ends in .dxf nor has a slash in it.
fitup take FOLDER           every DXF file of a folder (not of those within it) becomes a part: a folder by itself,
fitup take FILE.dxf ...     or with a slash where a file follows (drawings/); or the files that are named.

All of a folder is recorded in one go. What a file's name says of its part is read by the pattern of --names, which
the job remembers; what it does not say is filled from the options. A drawing that is some part's already is skipped.
Where a clean copy decides nothing it is made and taken. Where something is to be decided or redrawn, the drawing is
taken as it is and stops its part; what is to be done is listed. Files that cannot be read are listed, the others
taken.
"""
OF_ALL = ("material", "thickness", "process", "quantity", "coating", "coating_thickness", "masked", "density")


def _watch(add: Any) -> None:
    p = add(
        "watch", "tell what is saved in the folders of drawings, and what its part would be; Ctrl+C ends it"
    )
    p.add_argument(
        "paths",
        nargs="*",
        metavar="FOLDER",
        help="default: the folders that drawings were taken from; network drives are looked at once a second",
    )
    p.add_argument("--take", action="store_true", help="take each changed drawing as that of its part")
    p.add_argument("--once", action="store_true", help="look once and end; exit 1 where something differs")


def _take(add: Any) -> None:
    p = add("take", "take a part's drawing, or every drawing of a folder as a part")
    p.formatter_class, p.epilog = argparse.RawDescriptionHelpFormatter, TAKE
    p.add_argument("paths", nargs="+", metavar="PART FILE | FOLDER | FILE.dxf")
    p.add_argument("--unit", help="the unit of the files' numbers, where the header does not say or is wrong")
    layers(p)
    p.add_argument("--vendor", default="", help="who cuts it; layer roles are remembered for each vendor")
    p.add_argument(
        "--names",
        dest="pattern",
        default=None,
        metavar="PATTERN",
        help="how file names read, such as '{number}_{material}_{thickness}_x{quantity}'; also {revision}, {process}, "
        "{title}; remembered ('' for: the whole name is the number)",
    )
    p.add_argument("--changed", action="store_true", help="take changed drawings of open parts, too")
    p.add_argument("--strict", action="store_true", help="record nothing where one file is refused")
    for field in fields.PART_FIELDS:
        if field.name in OF_ALL:
            told = f"of every part whose file name does not say it: {field.asks}"
            p.add_argument(f"--{field.name.replace('_', '-')}", default=None, help=told)


def _survey(add: Any) -> None:
    p = add(
        "point",
        "name points of a site or bought part, to measure distances between; fields not named stay as they are",
    )
    p.add_argument("number")
    p.add_argument("labels", nargs="+", metavar="LABEL")
    p.add_argument("--diameter", default="", help="of a hole or stud whose center the point is")
    p.add_argument("--at", default="", metavar="'X, Y[, Z]'", help="measured coordinates, with --uncertainty")
    p.add_argument("--uncertainty", default="", help="expanded uncertainty (U) of each coordinate")
    p.add_argument(
        "--with", dest="instrument", default="", help="the instrument; it gives the uncertainty too"
    )
    p.add_argument("--side", default="", help="'left of P1 P2', going from P1 to P2 seen from above")
    p = add("distance", "a measured distance between two points; a new reading replaces the old one")
    p.add_argument("number")
    p.add_argument("a", metavar="POINT")
    p.add_argument("b", metavar="POINT")
    p.add_argument(
        "reading", nargs="?", default="", help="'1532 mm tape', '1532 1533 mm tape', '90 ±0.1 mm caliper'"
    )
    warm(p)
    p.add_argument("--remove", default="", metavar="REASON", help="remove this distance, with the reason")
    p = add("instrument", "an instrument of the job's own and its calibration; without a name, all of them")
    p.add_argument("name", nargs="?", default="", help="such as 'caliper 7'; readings name it so")
    p.add_argument("--kind", dest="tool", default="", help="tape, caliper, height gauge, feeler, CMM …")
    p.add_argument("--resolution", default="", help="the step it is read to, such as '0.01 mm'")
    p.add_argument("--standard", default="", help="standard uncertainty from its certificate (k = 1)")
    p.add_argument("--limit", default="", help="or its largest error, plus or minus")
    p.add_argument("--class", dest="grade", default="", help="or the class of a tape: I, II, III")
    p.add_argument("--calibrated", default="", metavar="YYYY-MM-DD", help="date of its last calibration")
    p.add_argument("--months", type=int, default=12, help="months until the next one (default: 12)")
    p = add(
        "survey",
        "where the distances put the points of a part, how well they are known, and which reading is off",
    )
    p.add_argument("number")


def _links(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--holds-up",
        action="append",
        default=[],
        metavar="PART|CONNECTION",
        help="what it stops besides its own part",
    )
    parser.add_argument(
        "--depends-on",
        action="append",
        default=[],
        metavar="WHAT",
        help="what must be known first: a question (Q2, BASE/Q2), a part, a clearance (CONNECTION/NAME)",
    )
    parser.add_argument("--needed-by", default="", metavar="YYYY-MM-DD", help="the last day to decide it")


def warm(parser: argparse.ArgumentParser) -> None:
    """The temperature of what is measured."""
    parser.add_argument(
        "--at",
        default="",
        metavar="30C",
        help="temperature of the work; the value is corrected to 20 °C (ISO 1)",
    )


def kept_beside(p: Any) -> None:
    """The option that keeps a file with what is recorded."""
    p.add_argument(
        "--evidence",
        action="append",
        default=[],
        metavar="FILE",
        help="a photograph or a paper to keep with it (repeatable)",
    )


def layers(parser: argparse.ArgumentParser) -> None:
    """What the layers of a file are for."""
    parser.add_argument(
        "--layer",
        action="append",
        default=[],
        metavar="NAME=ROLE",
        help="what a layer is for: cut, mark, bend or ignore (repeatable)",
    )


def across_parts(p: argparse.ArgumentParser) -> None:
    """How `dimension` reads where it is across parts: worked out, not recorded."""
    p.add_argument("number", metavar="NAME")
    p.add_argument("--from", dest="start", required=True, metavar="PART:HOLE")
    p.add_argument("--to", dest="end", required=True, metavar="PART:HOLE")
    p.add_argument("--along", default="")
