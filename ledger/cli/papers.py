"""Commands that write one paper to a file: a picture, a preview of the vendor's sheet, the shop record, the report."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.cli.asked import answer, open_shop

if TYPE_CHECKING:
    from ledger.shop import Shop


def picture(args: argparse.Namespace) -> int:
    kind = Path(args.out).suffix.lower().removeprefix(".")
    return _write(args, lambda shop: shop.picture(args.name, kind), "picture")


def sheet(args: argparse.Namespace) -> int:
    return _write(args, lambda shop: shop.sheet(args.number, args.paper), "sheet")


def record(args: argparse.Namespace) -> int:
    return _write(args, lambda shop: shop.record(args.number, args.revision), "shop record")


def report(args: argparse.Namespace) -> int:
    return _write(args, lambda shop: shop.report(), "report")


def _write(args: argparse.Namespace, make: Callable[[Shop], bytes], what: str) -> int:
    from ledger.packet.build import write_whole

    with open_shop(args) as shop:
        data = make(shop)
    write_whole(Path(args.out), data)
    return answer(args, f"{what}: {args.out}", file=args.out, size=len(data))
