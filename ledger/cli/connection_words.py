"""Commands about connections: their names and help, nothing heavy imported."""

from __future__ import annotations

from typing import Any

from ledger.cli.clearance_kinds import PICTURES
from ledger.cli.part_words import kept_beside, warm


def of_connections(add: Any) -> None:
    """The commands about connections and their clearances."""
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
    p = add(
        "assembly",
        "what is bolted together as a whole: whether rings close, what collides, an order of assembly; a picture",
    )
    p.add_argument(
        "-o", "--out", default="", metavar="FILE", help="write a picture in space: .png, .svg or .glb"
    )
    p.add_argument("--exploded", action="store_true", help="parts drawn apart, square to their faces")
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
    kept_beside(p)
    p = add("freeze", "freeze the interface that an open part shows to a connection")
    p.add_argument("connection")
    p.add_argument("number")
