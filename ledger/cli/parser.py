"""
What the command line reads. Nothing heavy is imported here, so that --help answers at once.

Choices are checked by the acts, which name the nearest known word; here are only names and help.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import Any, Final, NoReturn

from ledger.cli.clearance_kinds import PICTURES
from ledger.cli.lines import LINES, UsageError, take_lines
from ledger.cli.part_words import across_parts, layers, of_parts, warm
from ledger.domain.program import PROGRAM
from ledger.domain.required_odds import USUAL

_MINUS: Final = re.compile(r"-[0-9.]\S*$")


class _Parser(argparse.ArgumentParser):
    one_line: argparse.ArgumentParser | None = None  # how the same command reads with one line
    otherwise: _Parser | None = None  # how it reads with options that it has not otherwise

    @property
    def options(self) -> set[str]:
        """Every option as it is written."""
        return {word for action in self._actions for word in action.option_strings}

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """The words as they are named here, else as one line."""
        if self.otherwise is not None and (self.otherwise.options - self.options) & {*(args or ())}:
            return self.otherwise.parse_known_args(args, namespace)
        try:
            return super().parse_known_args(args, namespace)
        except UsageError as fault:
            if self.one_line is None:
                raise
            try:
                found, more = self.one_line.parse_known_args(args)
            except UsageError:
                raise fault from None
            if more:
                example = LINES[self.prog.split()[-1]].example(self.prog.split()[-1])
                raise UsageError(f"{fault}; or one line without options: {example}") from None
            return found, []

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}; {self.prog} --help lists what there is")


def with_values(argv: Sequence[str]) -> list[str]:
    """The words with values that begin with a minus, such as -0.2/+0.1 or -10,5, bound to the option before them."""
    words: list[str] = []
    for word in argv:
        if words and _MINUS.match(word) and words[-1].startswith("--") and "=" not in words[-1]:
            words[-1] += f"={word}"
        else:
            words.append(word)
    return words


def build_parser() -> argparse.ArgumentParser:
    """The whole command line. Options of every command stand before or behind its name."""
    common = _common(argparse.SUPPRESS)
    parser = _Parser(
        prog="fitup",
        description="A design-intent ledger and release gate for parts that outside vendors cut.",
        parents=[_common(None)],
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"fitup {PROGRAM}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def add(name: str, text: str) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = commands.add_parser(
            name, help=text, description=text, parents=[common], allow_abbrev=False
        )
        return made

    _without_a_job(add)
    of_parts(add)
    _connections(add)
    _release(add)
    _papers(add)
    _tables(add)

    def bare(prog: str) -> _Parser:
        return _Parser(prog=prog, parents=[common], add_help=False, allow_abbrev=False)

    for name, line in take_lines(commands.choices, bare).items():
        commands.choices[name].one_line = line
    across = bare(commands.choices["dimension"].prog)
    across_parts(across)
    commands.choices["dimension"].otherwise = across
    return parser


def _common(default: Any) -> _Parser:
    common = _Parser(add_help=False)
    common.add_argument(
        "--job", default=default, help="the job's file (default: FITUP_JOB, else fitup.db here)"
    )
    common.add_argument(
        "--by", default=default, help="your name, for the journal (default: FITUP_BY, else the user's login)"
    )
    common.add_argument(
        "--json", action="store_true", default=default or argparse.SUPPRESS, help="one JSON object on stdout"
    )
    return common


def _without_a_job(add: Any) -> None:
    p = add(
        "demo", "make a job for a telescope mount on a concrete pier, check it and lock the parts that are GO"
    )
    p.add_argument("folder", nargs="?", default="fitup-demo", help="a new folder (default: fitup-demo)")
    p = add("look", "what the reader makes of one DXF file")
    p.add_argument("file")
    p.add_argument("--unit", help="the unit of the file's numbers: mm, cm, m, in, ft …; wins over the header")
    layers(p)
    p = add("mend", "write a clean copy of a drawing: what the reader understood, and nothing else")
    p.add_argument("file", nargs="?", help="a DXF file; or name a part of the job with --part")
    p.add_argument("--part", default="", help="mend the drawing this part has, and take the copy instead")
    p.add_argument("-o", "--out", default="", help="where the copy of FILE goes")
    p.add_argument("--unit", help="the unit of the file's numbers, where the header does not say or is wrong")
    layers(p)
    p.add_argument(
        "--outline", type=int, default=0, help="which of several outlines is the part; 1 is the largest"
    )
    p.add_argument(
        "--hole",
        action="append",
        default=[],
        metavar="LABEL=SIZE",
        help="which of several circles is cut, in mm, or smallest or largest; all=smallest for every hole; "
        "round where few straight sides mean a round hole",
    )
    p.add_argument(
        "--as-drawn",
        action="store_true",
        help="lines count as drawn where a dimension text in the drawing differs",
    )
    p = add("fit", "whether the hole patterns of two DXF files go together")
    p.add_argument("a")
    p.add_argument("b")
    p.add_argument(
        "--fastener", default="auto", help="M8, 1/2-13, M20 EN 14399-3 … (default: auto, from the hole sizes)"
    )
    p.add_argument(
        "--also",
        action="append",
        default=[],
        metavar="'M6 dowel H5,H6 on H5,H6'",
        help="a further fastener with its holes of A and of B (repeatable)",
    )
    p.add_argument(
        "--joint",
        default="through",
        help="through (default), tapped in B, stud, captive nut, dowel, countersunk, countersunk tapped",
    )
    p.add_argument(
        "--turned-over",
        default="no",
        help="no (default: both drawn from above), yes (A is turned over), either",
    )
    p.add_argument("--process", default="laser", help="cutting process of both plates (default: laser)")
    p.add_argument(
        "--thickness",
        default="",
        help="thickness of both plates: thick ones are cut less exactly (default: 10 mm)",
    )
    p.add_argument(
        "--position",
        default="",
        help="position of A on B: 'as drawn' or 'x y angle', checked and not improved; 'left on left': flush",
    )
    for side in "ab":
        p.add_argument(
            f"--holes-{side}",
            default="",
            metavar="H1,H2",
            help=f"the holes of {side.upper()} that take the fastener (default: every hole that could)",
        )
        p.add_argument(
            f"--leave-out-{side}",
            default="",
            metavar="H1,H2",
            help=f"holes of {side.upper()} that are for something else",
        )
    required = p.add_mutually_exclusive_group()
    required.add_argument(
        "--odds", default=USUAL, metavar="PERCENT", help="share of lots that must go together (default: 99)"
    )
    required.add_argument(
        "--worst-case",
        action="store_true",
        help="require every limit at once: smallest holes, every position out",
    )
    p.add_argument(
        "--picture",
        metavar="FILE",
        help="draw the fit as .svg or .png: position, tightest hole, moves as arrows",
    )
    p.add_argument("--unit-a", help="unit of A's numbers")
    p.add_argument("--unit-b", help="unit of B's numbers")
    add("checks", "every check with its source and codes")


def _connections(add: Any) -> None:
    p = add("connect", "record how parts connect")
    p.epilog = PICTURES
    p.add_argument("name")
    p.add_argument("kind", help="bolted, welded, 'tab and slot', beside, 'passes through', inside")
    p.add_argument(
        "plies",
        nargs="+",
        metavar="PART[:GROUP[:FACE]]",
        help="parts in order; the first is laid on the second. FACE is top (default), bottom or edge; of a part that "
        "is not cut also a name of your own for the face that is touched, such as GEARBOX:FEET:feet",
    )
    p.add_argument("--fastener", default="")
    p.add_argument(
        "--joint", default="", help="through (default), tapped, stud, captive nut, dowel, countersunk"
    )
    p.add_argument("--turned-over", default="no", help="no (default), yes, either")
    p.add_argument(
        "--position",
        default="",
        help="position of the first part on the second: 'x y angle' in mm and degrees, 'as drawn', 'pins' (by the "
        "dowels named with --also), 'left on left', 'left on left and bottom on bottom'",
    )
    p.add_argument(
        "--also",
        action="append",
        default=[],
        metavar="'M6 dowel PINS on PINS'",
        help="another fastener in the same parts, its joint and its hole groups (repeatable)",
    )
    p.add_argument("--gap", default="", help="drawn clearance, or root gap of a weld, such as '0..1.5 mm'")
    p.add_argument("--side", default="", help="of a weld: 'arrow side', 'other side', 'both sides'")
    p.add_argument("--weld-class", default="", help="class of ISO 13920 across the weld: A, B, C, D")
    p.add_argument(
        "--holes", default="", help="holes on both sides of a weld: before (default), jigged, 'drilled after'"
    )
    p = add(
        "bolt",
        "bolt length and washers of a connection; without options, what is recorded and what the stack needs",
    )
    p.add_argument("connection")
    p.add_argument("line", nargs="?", default="", metavar="LINE", help="both in one line, without options")
    p.add_argument("--length", default="", help="such as '40 mm'; of studs, the length that sticks out")
    p.add_argument(
        "--washers", type=int, default=None, help="how many on each bolt (default: one under head and nut)"
    )
    add("connections", "every connection")
    p = add(
        "suggest",
        "connections that the drawings speak of: hole patterns that agree beyond chance, best first",
    )
    p.add_argument(
        "--record",
        default="",
        metavar="1,3..5",
        help="record these with their hole groups, in one go: 2b is proposal 2 with choice b, 'all' is every one that "
        "leaves nothing to choose",
    )
    p.add_argument("--all", action="store_true", help="show possible ones and versions of one part, too")
    add(
        "assembly",
        "rings of bolted parts: whether each closes as a whole, its margins, the move that closes it",
    )
    p = add("remove", "remove an entry made by mistake: of an open part, or a clearance of a connection")
    p.add_argument("of", metavar="PART|CONNECTION")
    p.add_argument("what", help="dimension, group, operation, hole, point, clearance")
    p.add_argument("names", nargs="+", metavar="NAME")
    p.add_argument("--reason", required=True)
    p = add("disconnect", "remove a connection")
    p.add_argument("name")
    p.add_argument("--reason", required=True)
    p = add("clearance", "a clearance that a connection must have on the real structure")
    p.add_argument("connection")
    p.add_argument("name")
    p.add_argument("required", help="such as '>= 2 mm' or '2..5 mm'")
    p.add_argument("--critical", action="store_true", help="must be proven, not only likely")
    p = add("measure", "a measured clearance")
    p.add_argument("connection")
    p.add_argument("name")
    p.add_argument("reading", help="value, uncertainty and instrument: '1.8 ±0.1 mm feeler'")
    warm(p)
    p = add("freeze", "freeze the interface that an open part shows to a connection")
    p.add_argument("connection")
    p.add_argument("number")


def _release(add: Any) -> None:
    p = add("next", "what to decide, measure or fix next: first what unblocks most parts")
    p.add_argument(
        "--most",
        dest="last",
        type=int,
        default=10,
        metavar="N",
        help="how many steps (default: 10; 0 for all)",
    )
    p = add("verdict", "GO or NO-GO, with reasons and with what was not checked")
    p.add_argument(
        "parts", nargs="+", metavar="PART", help="several are checked as a set that goes out together"
    )
    p.add_argument("--all", action="store_true", help="every finding in full, and all that was not checked")
    p = add("why", "everything known of a finding: the sum behind its number, every fix, its source")
    p.add_argument("part", metavar="PART")
    p.add_argument("code", metavar="CODE", help="as the verdict shows it, such as offset")
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
    p = add("permit", "accept one finding in writing; one of a connection at all its parts at once")
    p.add_argument("part")
    p.add_argument("code")
    p.add_argument("--where", default="", help="the finding's place, as the verdict shows it")
    p.add_argument("--reason", required=True)
    p.add_argument("--until", default="", help="last day, YYYY-MM-DD")
    p.add_argument(
        "--up-to",
        default="",
        help="void once the value found is worse than this, such as '240.5 mm'",
    )
    p = add("withdraw", "withdraw a permit, at all the parts that it names")
    p.add_argument("part")
    p.add_argument("code")
    p.add_argument(
        "--where", default="", help="the place that the permit names, as shown by: fitup show PART"
    )
    p.add_argument("--reason", required=True)
    p = add("key", "the keys of a person; add one, retire one, or both")
    p.add_argument("name")
    p.add_argument(
        "line", nargs="?", default="", metavar="LINE", help="the change in one line, without options"
    )
    p.add_argument("--add", action="store_true", help="a new key, made at this workstation")
    p.add_argument("--retire", default="", metavar="KEY", help="the first characters of the key")
    p.add_argument(
        "--from-entry",
        type=int,
        default=0,
        metavar="N",
        help="with --retire: what was signed with it from entry N on is void (default: from now on)",
    )
    p.add_argument("--reason", default="", help="why; needed for every change")
    p = add(
        "policy",
        "roles that must sign, warnings that stop, odds required of holes; without options, the policy in force",
    )
    p.add_argument("--roles", default=None, help="comma-separated, such as drawn,checked")
    p.add_argument(
        "--raise",
        dest="raised",
        action="append",
        default=None,
        metavar="CODE",
        help="a warning that stops (repeatable; name all of them, '' for none)",
    )
    p.add_argument(
        "--odds",
        default=None,
        metavar="PERCENT",
        help="share of lots that must go together where every limit at once does not (default: 99), or 'worst case'",
    )
    p.add_argument("--permits", default=None, metavar="ROLES", help="roles that may permit: checked,approved")
    p = add("lock", "lock parts that are GO and write their packet")
    p.add_argument("parts", nargs="+", metavar="PART")
    p.add_argument("--out", required=True, help="a folder for the packet and the plain DXF files")
    p = add("packet", "write the kept packet of a locked part again")
    p.add_argument("part")
    p.add_argument("--revision", default="")
    p.add_argument("--out", required=True)
    p = add("verify", "whether the job, a packet or a DXF file is intact")
    p.add_argument("file", nargs="?", help="a packet or a DXF file; without it the whole job")
    p.add_argument(
        "--since",
        default="",
        metavar="SEAL",
        help="an old journal seal that the job must extend: SEQ:HASH as printed, or as fitup seal prints it",
    )
    add(
        "seal",
        "the journal seal, short enough to note by hand; a later verify --since finds a rewriting before it",
    )
    p = add(
        "guard", "whether every DXF in a folder is byte for byte a locked, current revision; exit 0 only then"
    )
    p.add_argument("folder", metavar="FOLDER")
    p = add("grants", "SQL for a role that may only add to a job on a server (PostgreSQL)")
    p.add_argument("role", metavar="ROLE")
    p = add("export", "the whole job as plain files: journal as JSON lines, and every kept byte")
    p.add_argument("out", metavar="FOLDER|FILE.zip")
    p = add("import", "rebuild an exported job, with the same seal, in a new file (--job)")
    p.add_argument("source", metavar="FOLDER|FILE.zip")
    p.add_argument(
        "--rest",
        default="",
        metavar="FILE",
        help="of a job that does not hold together: import the entries before the first that does not, "
        "and write the others to FILE",
    )
    p = add("backup", "copy the job's file while others work in it")
    p.add_argument("out", metavar="FILE")
    p = add("journal", "who did what and when")
    p.add_argument("--last", type=int, default=0, metavar="N", help="only the newest N entries")
    add("undo", "undo your own newest unsigned entry; the journal keeps both")


def _papers(add: Any) -> None:
    out = {"dest": "out", "required": True, "metavar": "FILE"}
    paper = {"default": "A4", "help": "A4 (default) or letter"}
    p = add("picture", "draw a part, or the plies of a connection in position")
    picture_out = {**out, "help": "a name that ends .svg or .png"}
    p.add_argument("name", metavar="PART|CONNECTION")
    p.add_argument("-o", "--out", **picture_out)
    p = add(
        "points",
        "write the measured holes and points of a part as a DXF, at true size, to draw a new part over",
    )
    p.add_argument("number", metavar="PART")
    p.add_argument("-o", "--out", **{**out, "metavar": "FILE.dxf"})
    p = add("template", "the outline and holes of a part at full size as PDF, on sheets to be joined")
    p.add_argument("number", metavar="PART")
    p.add_argument("-o", "--out", **{**out, "metavar": "FILE.pdf"})
    p.add_argument(
        "--paper",
        default="A4",
        help="A4 (default), A3, letter, tabloid, or a roll by its width: 'roll 24 in'",
    )
    p.add_argument(
        "--margin", default="10 mm", metavar="LENGTH", help="not printable at the edge (default 10 mm)"
    )
    p.add_argument(
        "--overlap", default="10 mm", metavar="LENGTH", help="shared with the next sheet (default 10 mm)"
    )
    p.add_argument("--turned-over", action="store_true", help="as seen from the back")
    p.add_argument("--yes", action="store_true", help="even if it takes more than 40 sheets")
    p = add(
        "sheet",
        "the vendor sheet of a part as PDF: marked PREVIEW, or of a locked revision as it is in the packet",
    )
    p.add_argument("number", metavar="PART")
    p.add_argument("-o", "--out", **out)
    p.add_argument("--paper", **paper)
    p = add("record", "the job record of a locked part as PDF, with an empty column for what came back")
    p.add_argument("number", metavar="PART")
    p.add_argument("--revision", default="", help="a locked revision (default: the newest)")
    p.add_argument("-o", "--out", **out)
    p = add("report", "the whole job as one HTML file: verdicts, fixes, dimensions, connections, signatures")
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
