"""Commands that guard what leaves, take a shop out whole and bring it in again."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.asked import answer, as_json, ask_passphrase, open_shop, place_of
from ledger.cli.show import say, show_json
from ledger.domain.errors import visible
from ledger.domain.whereabouts import shown


def export(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        head = shop.export(Path(args.out))
    return answer(args, f"exported to {visible(args.out)}, head {head}", out=args.out, head=head)


def bring_in(args: argparse.Namespace) -> int:
    from ledger.shop import Shop

    with Shop.bring_in(place_of(args), Path(args.source), ask_passphrase) as shop:
        seq, head = shop.head()
    words = f"shop {shop.title!r} is rebuilt in {shown(place_of(args))}: {seq} entries, head {seq}:{head}"
    return answer(args, words, shop=shop.ident, head=f"{seq}:{head}")


def backup(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        head = shop.backup(Path(args.out))
    return answer(args, f"copied to {visible(args.out)}, head {head}", out=args.out, head=head)


def guard(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        seen = shop.guard(Path(args.folder))
    if as_json(args):
        files = [f.to_json() for f in seen.files]
        show_json(
            {
                "may_go": seen.may_go,
                "files": files,
                "other_files": seen.others,
                "not_looked_into": list(seen.unseen),
            }
        )
        return 0 if seen.may_go else 1
    for f in seen.files:
        say(f"{'ok  ' if f.may_go else 'STOP'}  {f.words}")
        for line in f.says:
            say(f"        {line}")
    for line in seen.unseen:
        say(f"STOP  not looked into: {line}")
    say(seen.words)
    return 0 if seen.may_go else 1


def grants_of(args: argparse.Namespace) -> int:
    from ledger.store.grants import grants

    script = grants(args.role)
    if as_json(args):
        show_json({"role": args.role, "sql": script})
        return 0
    for line in script.splitlines():
        say(line)
    return 0
