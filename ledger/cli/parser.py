"""
What can be said on the command line. Nothing heavy is imported here, so that --help answers at once.

Choices are checked by the acts, which name the nearest known word; here stand only names and help.
"""

from __future__ import annotations

import argparse
from typing import Any, NoReturn


class UsageError(Exception):
    """The command line does not read as a command."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}; {self.prog} --help lists what there is")


BINDING_HELP = (
    "width, height, 'diameter H1', 'distance H1 H2' (distance-x, distance-y), 'edge H1', 'slot-length H1', "
    "'slot-width H1', 'pitch GROUP', 'circle GROUP', 'radius X Y', 'angle X Y', area; folded 'leg B1 H1', "
    "'leg B1 B2', 'leg B1 X Y'"
)


def build_parser() -> argparse.ArgumentParser:
    """The whole command line. Options of every command stand before or behind its name."""
    common = _common(argparse.SUPPRESS)
    parser = _Parser(
        prog="fitup",
        description="May this revision go out to be cut? A ledger of design intent and a gate before release.",
        parents=[_common(None)],
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def add(name: str, text: str) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = commands.add_parser(
            name, help=text, description=text, parents=[common], allow_abbrev=False
        )
        return made

    _without_a_shop(add)
    _parts(add)
    _mates(add)
    _release(add)
    _papers(add)
    _tables(add)
    return parser


def _common(default: Any) -> _Parser:
    common = _Parser(add_help=False)
    common.add_argument(
        "--shop", default=default, help="the shop's file (default: FITUP_SHOP, else fitup.db here)"
    )
    common.add_argument(
        "--by", default=default, help="who does it (default: FITUP_BY, else the user's login)"
    )
    common.add_argument(
        "--json", action="store_true", default=default or argparse.SUPPRESS, help="one JSON object on stdout"
    )
    return common


def _without_a_shop(add: Any) -> None:
    p = add("demo", "make a shop for a telescope mount on a concrete pier, judge it and lock what may go")
    p.add_argument("folder", nargs="?", default="fitup-demo", help="a new folder (default: fitup-demo)")
    p = add("look", "what the reader makes of one DXF file")
    p.add_argument("file")
    p.add_argument("--unit", help="the unit of the file's numbers: mm, cm, m, in, ft …; wins over the header")
    _layers(p)
    p = add("mend", "write a clean copy of a drawing: what was understood of it, and nothing else")
    p.add_argument("file", nargs="?", help="a DXF file; or name a part of the shop with --part")
    p.add_argument("--part", default="", help="mend the drawing this part has, and take the copy instead")
    p.add_argument("-o", "--out", default="", help="where the copy of FILE goes")
    p.add_argument("--unit", help="the unit of the file's numbers, where the header does not say or is wrong")
    _layers(p)
    p.add_argument(
        "--outline", type=int, default=0, help="which of several outlines is the part; 1 is the largest"
    )
    p.add_argument(
        "--hole",
        action="append",
        default=[],
        metavar="LABEL=SIZE",
        help="which of several circles is cut, in mm, or smallest or largest; all=smallest for every hole",
    )
    p = add("fit", "do the hole patterns of two DXF files go together")
    p.add_argument("a")
    p.add_argument("b")
    p.add_argument("--fastener", required=True, help="M8, 1/2-13, #10-32 …")
    p.add_argument(
        "--joint",
        default="through",
        help="through (default), tapped in B, stud, captive nut, dowel, countersunk, countersunk tapped",
    )
    p.add_argument(
        "--flip", default="no", help="no (default: both drawn from above), yes (A is turned over), either"
    )
    p.add_argument("--process", default="laser", help="cutting process for the worst case (default: laser)")
    p.add_argument(
        "--located",
        default="",
        help="where A lies on B: 'as drawn' or 'x y angle', judged and not improved; 'left on left': flush",
    )
    p.add_argument("--picture", metavar="FILE.svg", help="draw the fit: pose, tightest hole, moves as arrows")
    p.add_argument("--unit-a", help="unit of A's numbers")
    p.add_argument("--unit-b", help="unit of B's numbers")
    add("checks", "every check with its source and codes")


def _parts(add: Any) -> None:
    p = add("start", "start a shop")
    p.add_argument("title", help="the shop's name")
    p = add("enrol", "enrol a person and make their key")
    p.add_argument("name")
    p.add_argument(
        "--roles", default="drawn,checked,approved", help="comma-separated: drawn, checked, approved"
    )
    add("people", "who is enrolled")
    p = add("part", "record a part, or change its open revision; fields not named stay as they are")
    p.add_argument("number")
    for field, text in (
        ("title", "what it is"),
        ("form", "cut (default), site, bought"),
        ("hand", "either (default), 'as drawn', opposite"),
        ("opposite-of", "the part this one is the opposite hand of"),
        ("material", "material and grade"),
        ("thickness", "such as '12 mm', '3/16 in', or '16 ga' of a known material"),
        ("finish", "coating, such as 'hot-dip zinc'"),
        ("finish-thickness", "thickness of the coating on each face"),
        ("process", "laser, water-jet, plasma, machined …"),
        ("grain", "grain direction, such as 'along the length'"),
        ("masked", "what the finish leaves bare: holes, top, bottom, edges, or labels of holes"),
        ("density", "such as '7850 kg/m3', where no table has the material"),
        ("quantity", "how many are ordered"),
        ("per-assembly", "or how many go into each assembly"),
        ("assemblies", "how many assemblies (default: 1)"),
        ("spares", "how many more (default: 0)"),
        ("etched", "the number that is etched or cut into it, so that it is told from parts like it"),
        ("note", "a remark; other parts' signatures do not depend on it"),
    ):
        p.add_argument(f"--{field}", default=None, help=text)
    p.add_argument("--stands-alone", choices=("yes", "no"), help="whether it mates with nothing")
    add("parts", "every part with its revision and verdict")
    p = add("show", "everything recorded of a part")
    p.add_argument("number")
    p = add("take", "take a part's profile from a DXF file")
    p.add_argument("number")
    p.add_argument("file")
    p.add_argument("--unit", help="the unit of the file's numbers, where the header does not say or is wrong")
    _layers(p)
    p.add_argument("--vendor", default="", help="who cuts it: what layers are for is remembered for them")
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
    p = add("finish", "what is done to holes after cutting")
    p.add_argument("number")
    p.add_argument("labels", nargs="+", metavar="LABEL")
    p.add_argument(
        "--as", dest="finish", required=True, help="plain, tapped, countersunk, reamed, 'captive nut'"
    )
    p.add_argument("--thread", default="", help="for tapped holes and captive nuts")
    p = add("bend", "what is done at the bend lines of a folded part; without --as, what is known of them")
    p.add_argument("number")
    p.add_argument("labels", nargs="*", metavar="LABEL", help="B1 B2 …, as fitup bend PART shows them")
    p.add_argument(
        "--as",
        dest="words",
        default="",
        metavar="'90 deg up, R 3 mm, K 0.44'",
        help="angle turned from flat and direction; inside radius; K-factor, or allowance or deduction of a bend "
        "table; ±0.5 mm by which what lies beyond may be off",
    )
    p.add_argument("--drop", default="", metavar="REASON", help="what was said of this bend is not to count")
    p = add("folding", "what a vendor folds a material of a thickness with; without options, what is known")
    p.add_argument("vendor", nargs="?", default="", help="as named when a drawing was taken: take --vendor")
    p.add_argument("--material", default="")
    p.add_argument("--thickness", default="")
    p.add_argument("--radius", default="", help="inside radius")
    p.add_argument("--k", dest="k_factor", default="", help="K-factor")
    p = add("group", "name holes that belong together")
    p.add_argument("number")
    p.add_argument("name")
    p.add_argument("labels", nargs="*", metavar="LABEL")
    p.add_argument(
        "--from",
        dest="reference",
        default="",
        metavar="GROUP|HOLE",
        help="what it is placed from: bends between count",
    )
    p = add("dimension", "record a key dimension")
    p.add_argument("number")
    p.add_argument("name")
    p.add_argument(
        "nominal",
        help="such as '240 mm', '3/16 in', '37.5 deg', '2.5 in2'; with --source calculated a formula over other "
        "dimensions: '2*W + 3/16 in', '[bolt circle] of [ARM-L] / 2'; with --source measured a line of readings: "
        "'1.8 1.9 mm caliper', 'inside 82 outside 98 mm caliper'",
    )
    p.add_argument("--limits", default="", help="such as ±0.1, +0.2/-0 or 239.9..240.1 mm")
    p.add_argument(
        "--source", default="given", help="given (default), measured, calculated, standard, assumed"
    )
    p.add_argument("--instrument", default="")
    p.add_argument("--uncertainty", default="", help="expanded uncertainty; else the instrument's is taken")
    _warm(p)
    p.add_argument("--on", dest="bound", default="", help=BINDING_HELP)
    p.add_argument("--held", action="store_true", help="must not change from one revision to the next")
    p.add_argument("--critical", action="store_true", help="must be proven, not only likely")
    p = add("ask", "an open question that stops a part")
    p.add_argument("number")
    p.add_argument("ident", help="a short name, such as Q1")
    p.add_argument("text")
    _links(p)
    p = add("link", "what a question blocks, what it waits for and its day, written anew")
    p.add_argument("number")
    p.add_argument("ident")
    _links(p)
    p = add("answer", "answer an open question")
    p.add_argument("number")
    p.add_argument("ident")
    p.add_argument("text")
    p = add("revise", "start a new revision from the locked one")
    p.add_argument("number")
    p.add_argument("--reason", required=True)


def _survey(add: Any) -> None:
    p = add("point", "name points of a site or bought part, to measure distances between")
    p.add_argument("number")
    p.add_argument("labels", nargs="+", metavar="LABEL")
    p.add_argument("--diameter", default="", help="of a hole or stud whose centre the point is")
    p.add_argument("--at", default="", metavar="'X, Y[, Z]'", help="measured coordinates, with --uncertainty")
    p.add_argument("--uncertainty", default="", help="expanded uncertainty (U) of each coordinate")
    p.add_argument(
        "--with", dest="instrument", default="", help="the instrument; it gives the uncertainty too"
    )
    p.add_argument("--side", default="", help="'left of P1 P2', going from P1 to P2 seen from above")
    p = add("distance", "a measured distance between two points; measured again, it replaces the old one")
    p.add_argument("number")
    p.add_argument("a", metavar="POINT")
    p.add_argument("b", metavar="POINT")
    p.add_argument(
        "reading", nargs="?", default="", help="'1532 mm tape', '1532 1533 mm tape', '90 ±0.1 mm caliper'"
    )
    _warm(p)
    p.add_argument("--drop", default="", metavar="REASON", help="it is not to count any more")
    p = add("instrument", "an instrument of the shop's own and its calibration; without a name, all of them")
    p.add_argument("name", nargs="?", default="", help="such as 'caliper 7'; readings name it so")
    p.add_argument("--kind", dest="tool", default="", help="tape, caliper, height gauge, feeler, CMM …")
    p.add_argument("--resolution", default="", help="the step it is read to, such as '0.01 mm'")
    p.add_argument("--standard", default="", help="standard uncertainty by its certificate (k = 1)")
    p.add_argument("--limit", default="", help="largest error either side, instead")
    p.add_argument("--class", dest="grade", default="", help="class of a tape, instead: I, II, III")
    p.add_argument("--calibrated", default="", metavar="YYYY-MM-DD", help="day of its last calibration")
    p.add_argument("--months", type=int, default=12, help="months until the next one (default 12)")
    p = add("survey", "where the points of a part are by its distances, how sure, and which reading is off")
    p.add_argument("number")


def _links(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--blocks",
        action="append",
        default=[],
        metavar="PART|MATE",
        help="what it stops besides its own part",
    )
    parser.add_argument(
        "--waits",
        action="append",
        default=[],
        metavar="WHAT",
        help="what must be known first: a question (Q2, BASE/Q2), a part, a clearance (MATE/NAME)",
    )
    parser.add_argument(
        "--due", default="", metavar="YYYY-MM-DD", help="the day by which it is to be decided"
    )


def _warm(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--at",
        default="",
        metavar="30C",
        help="how warm the work was: the value is corrected to 20 °C (ISO 1)",
    )


def _mates(add: Any) -> None:
    p = add("mate", "declare how parts go together")
    p.add_argument("name")
    p.add_argument("kind", help="bolted, welded, 'tab and slot', beside, passes, inside")
    p.add_argument(
        "plies",
        nargs="+",
        metavar="PART[:GROUP[:FACE]]",
        help="parts in order; the first is laid on the second",
    )
    p.add_argument("--fastener", default="")
    p.add_argument("--joint", default="", help="through, tapped, stud, captive nut, dowel, countersunk")
    p.add_argument("--flip", default="no", help="no (default), yes, either")
    p.add_argument(
        "--located",
        default="",
        help="where the first part lies on the second: 'x y angle' in mm and degrees, 'as drawn', 'pins' (by the "
        "dowels named with --also), 'left on left', 'left on left and bottom on bottom'",
    )
    p.add_argument(
        "--also",
        action="append",
        default=[],
        metavar="'M6 dowel PINS on PINS'",
        help="another fastener in the same parts, its joint and its hole groups; may be given again",
    )
    p.add_argument("--gap", default="", help="drawn clearance, or root gap of a weld, such as '0..1.5 mm'")
    p.add_argument("--side", default="", help="of a weld: 'arrow side', 'other side', 'both sides'")
    p.add_argument("--weldment", default="", help="class of ISO 13920 across the weld: A, B, C, D")
    p.add_argument(
        "--holes", default="", help="holes on both sides of a weld: before (default), jigged, 'drilled after'"
    )
    p = add(
        "bolt",
        "how long the bolts of a mate are; without options, what is stated and what the stack asks for",
    )
    p.add_argument("mate")
    p.add_argument("--length", default="", help="such as '40 mm'; of studs, what stands out")
    p.add_argument(
        "--washers", type=int, default=None, help="how many on each bolt (default: one under head and nut)"
    )
    add("mates", "every mate")
    p = add("unmate", "drop a mate")
    p.add_argument("name")
    p.add_argument("--reason", required=True)
    p = add("clearance", "a clearance that a mate must have on the real structure")
    p.add_argument("mate")
    p.add_argument("name")
    p.add_argument("required", help="such as '>= 2 mm' or '2..5 mm'")
    p.add_argument("--critical", action="store_true", help="must be proven, not only likely")
    p = add("measure", "a measured clearance")
    p.add_argument("mate")
    p.add_argument("name")
    p.add_argument("reading", help="value, uncertainty and instrument: '1.8 ±0.1 mm feeler'")
    p = add("freeze", "freeze the face that an open part shows to a mate")
    p.add_argument("mate")
    p.add_argument("number")


def _release(add: Any) -> None:
    p = add("next", "what to decide, measure or mend first, because it frees the most parts")
    p.add_argument(
        "--most", dest="last", type=int, default=10, metavar="N", help="so many steps (default 10; 0 for all)"
    )
    p = add("verdict", "GO or NO-GO, with reasons and with what was not checked")
    p.add_argument(
        "parts", nargs="+", metavar="PART", help="several are judged as a set that goes out together"
    )
    p = add("sign", "sign one or more parts in a role")
    p.add_argument("parts", nargs="+", metavar="PART")
    p.add_argument("--role", required=True, help="drawn, checked, approved")
    p.add_argument(
        "--again",
        action="append",
        default=[],
        metavar="PART/NAME=VALUE",
        help="a key dimension typed again, for one person alone",
    )
    p = add("permit", "accept one finding of the open revision in writing")
    p.add_argument("part")
    p.add_argument("code")
    p.add_argument("--where", default="", help="the finding's place, as the verdict shows it")
    p.add_argument("--reason", required=True)
    p.add_argument("--until", default="", help="last day, YYYY-MM-DD")
    p.add_argument(
        "--up-to",
        default="",
        help="it holds while what is found is no worse than this value, such as '240.5 mm'",
    )
    p = add("key", "the keys of a person; add one, retire one, or both")
    p.add_argument("name")
    p.add_argument("--add", action="store_true", help="a new key, made at this seat")
    p.add_argument("--retire", default="", metavar="KEY", help="the first figures of the key")
    p.add_argument(
        "--from-entry",
        type=int,
        default=0,
        metavar="N",
        help="with --retire: what was signed with it from entry N on counts no more (default: from now on)",
    )
    p.add_argument("--reason", default="", help="why; needed for every change")
    p = add("policy", "which roles must sign and which warnings stop")
    p.add_argument("--roles", default="drawn,checked")
    p.add_argument("--raise", dest="raised", action="append", default=[], metavar="CODE")
    p = add("lock", "lock parts that are GO and write their packet")
    p.add_argument("parts", nargs="+", metavar="PART")
    p.add_argument("--out", required=True, help="a folder for the packet and the plain DXF files")
    p = add("packet", "hand out the kept packet of a locked part again")
    p.add_argument("part")
    p.add_argument("--revision", default="")
    p.add_argument("--out", required=True)
    p = add("verify", "does the shop, a packet or a DXF file hold together")
    p.add_argument("file", nargs="?", help="a packet or a DXF file; without it the whole shop")
    p.add_argument(
        "--since",
        default="",
        metavar="HEAD",
        help="an old head (SEQ:HASH, as printed) that the shop must extend",
    )
    p = add("guard", "is every DXF in a folder byte for byte a locked, current revision; exit 0 only then")
    p.add_argument("folder", metavar="FOLDER")
    p = add("grants", "SQL for a role that may only add to a shop on a server (PostgreSQL)")
    p.add_argument("role", metavar="ROLE")
    p = add("export", "the whole shop as plain files: journal as JSON lines, and every kept byte")
    p.add_argument("out", metavar="FOLDER|FILE.zip")
    p = add("import", "rebuild an exported shop, with the same head, in a new file (--shop)")
    p.add_argument("source", metavar="FOLDER|FILE.zip")
    p = add("backup", "copy the shop's file while others work in it")
    p.add_argument("out", metavar="FILE")
    p = add("journal", "who did what and when")
    p.add_argument("--last", type=int, default=0, metavar="N", help="only the newest N entries")
    add("undo", "take your own newest unsigned entry back, by a counter-entry")


def _papers(add: Any) -> None:
    out = {"dest": "out", "required": True, "metavar": "FILE"}
    paper = {"default": "A4", "help": "A4 (default) or letter"}
    p = add("picture", "draw a part, or the two plies of a mate as they go together")
    picture_out = {**out, "help": "a name that ends .svg or .png"}
    p.add_argument("name", metavar="PART|MATE")
    p.add_argument("-o", "--out", **picture_out)
    p = add("sheet", "the vendor's sheet of a part as PDF, marked PREVIEW; the released one is in the packet")
    p.add_argument("number", metavar="PART")
    p.add_argument("-o", "--out", **out)
    p.add_argument("--paper", **paper)
    p = add("record", "the shop record of a locked part as PDF, with an empty column for what came back")
    p.add_argument("number", metavar="PART")
    p.add_argument("--revision", default="", help="a locked revision (default: the newest)")
    p.add_argument("-o", "--out", **out)
    p = add("report", "the whole shop as one HTML file: verdicts, cures, dimensions, mates, sign-offs")
    p.add_argument("-o", "--out", **out)


def _tables(add: Any) -> None:
    p = add("enter", "what a table of key dimensions or clearances would record; --record records it")
    p.add_argument(
        "file", metavar="FILE.csv", help="its first line names the columns; - reads standard input"
    )
    p.add_argument("--record", action="store_true", help="record all of it, or nothing where a row is wrong")
    p.add_argument(
        "--only-good", action="store_true", help="with --record: leave out the rows that are wrong"
    )
    p = add("dimensions", "write key dimensions as a table, to edit and enter again")
    p.add_argument("number", nargs="?", default="", metavar="PART", help="one part (default: every part)")
    p.add_argument("-o", "--out", dest="out", required=True, metavar="FILE.csv")
    p = add("changes", "what changed of a part: from the revision before, or since somebody last signed it")
    p.add_argument("number", metavar="PART")
    p.add_argument("--since-signed-by", dest="person", default="", metavar="PERSON")
    p.add_argument("--from", dest="earlier", default="", metavar="REVISION")
    p.add_argument("--to", dest="later", default="", metavar="REVISION")


def _layers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--layer",
        action="append",
        default=[],
        metavar="NAME=ROLE",
        help="what a layer is for: cut, mark, bend or ignore; may be given again",
    )
