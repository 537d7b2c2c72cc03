"""Commands that write papers and tables, or read a table: their names and help, nothing heavy imported."""

from __future__ import annotations

from typing import Any


def of_papers(add: Any) -> None:
    """The commands that write a picture or a paper."""
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


def of_tables(add: Any) -> None:
    """The commands about tables, and about what changed."""
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
    p = add(
        "write", "the job as text (TOML): what is recorded of parts and connections, to edit and read again"
    )
    p.add_argument(
        "-o", "--out", default="", metavar="FILE.toml", help="a file; what is there keeps its comments"
    )
    p = add("read", "what a text of the job would change, line by line; --record records it")
    p.add_argument("file", metavar="FILE.toml", help="drawings that it names are looked for beside it")
    p.add_argument("--record", action="store_true", help="record all of it, or nothing where a line is wrong")
    p.add_argument(
        "--whole", action="store_true", help="what the file does not speak of is to go, except parts"
    )
    p = add("schema", "what a text of the job may hold, as a JSON schema, for editors that complete it")
    p.add_argument("-o", "--out", default="", metavar="FILE.json")
    p = add("changes", "what changed of a part: from the revision before, or since somebody last signed it")
    p.add_argument("number", metavar="PART")
    p.add_argument("--since-signed-by", dest="person", default="", metavar="PERSON")
    p.add_argument("--from", dest="earlier", default="", metavar="REVISION")
    p.add_argument("--to", dest="later", default="", metavar="REVISION")
