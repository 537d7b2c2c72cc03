"""Commands about files alone, without a job, and the demo: their names and help, nothing heavy imported."""

from __future__ import annotations

from typing import Any

from ledger.cli.part_words import layers
from ledger.domain.required_odds import USUAL


def of_files(add: Any) -> None:
    """The commands that need no job."""
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
    p = add("completion", "what a shell needs to complete commands and options, to be saved where it looks")
    p.add_argument("shell", help="bash, zsh, fish, tcsh or powershell")
