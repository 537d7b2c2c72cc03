"""Commands that take a shop out whole and bring it in again."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.asked import answer, ask_passphrase, open_shop, place_of
from ledger.domain.errors import visible


def export(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        head = shop.export(Path(args.out))
    return answer(args, f"exported to {visible(args.out)}, head {head}", out=args.out, head=head)


def bring_in(args: argparse.Namespace) -> int:
    from ledger.shop import Shop
    from ledger.store.place import shown

    with Shop.bring_in(place_of(args), Path(args.source), ask_passphrase) as shop:
        seq, head = shop.head()
    words = f"shop {shop.title!r} is rebuilt in {shown(place_of(args))}: {seq} entries, head {seq}:{head}"
    return answer(args, words, shop=shop.ident, head=f"{seq}:{head}")


def backup(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        head = shop.backup(Path(args.out))
    return answer(args, f"copied to {visible(args.out)}, head {head}", out=args.out, head=head)
