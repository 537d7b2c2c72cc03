"""Commands that write one paper to a file: a picture, a preview of the vendor sheet, the job record, the report."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.context import answer, open_job, write_paper
from ledger.domain.errors import BadInput, visible
from ledger.domain.plural import counted


def picture(args: argparse.Namespace) -> int:
    kind = Path(args.out).suffix.lower().removeprefix(".")
    return write_paper(args, lambda job: job.picture(args.name, kind), "picture")


def sheet(args: argparse.Namespace) -> int:
    return write_paper(args, lambda job: job.sheet(args.number, args.paper), "sheet")


def points(args: argparse.Namespace) -> int:
    if not args.out.lower().endswith(".dxf"):
        raise BadInput(f"read {visible(args.out)!r} as the file to write; expected a name that ends .dxf")
    return write_paper(args, lambda job: job.points_drawing(args.number), "measured points to draw over")


def template(args: argparse.Namespace) -> int:
    from ledger.files import write_whole

    if not args.out.lower().endswith(".pdf"):
        raise BadInput(f"read {visible(args.out)!r} as the file to write; expected a name that ends .pdf")
    with open_job(args) as job:
        made = job.template(
            args.number,
            args.paper,
            margin=args.margin,
            overlap=args.overlap,
            turned_over=args.turned_over,
            many=args.yes,
        )
    write_whole(Path(args.out), made.data)
    wide, high = (f"{side:g}" for side in made.page_mm)
    shape = f" ({made.across} across, {made.down} down)" if made.sheets > 1 else ""
    text = (
        f"template: {args.out}, {counted(made.sheets, 'sheet')} of {wide} x {high} mm{shape}; print at 100 %, "
        "and measure both bars before drilling"
    )
    return answer(
        args, text, file=args.out, size=len(made.data), sheets=made.sheets, across=made.across, down=made.down
    )


def record(args: argparse.Namespace) -> int:
    return write_paper(args, lambda job: job.record(args.number, args.revision), "job record")


def report(args: argparse.Namespace) -> int:
    return write_paper(args, lambda job: job.report(), "report")
