"""The command that verifies: the whole shop, a packet, or a bare drawing."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from ledger.cli.asked import (
    as_json,
    open_shop,
    read_file,
)
from ledger.cli.show import say, show_finding, show_json

TAMPERED = 4


def verify(args: argparse.Namespace) -> int:
    if not args.file:
        return _verify_shop(args)
    data = read_file(args.file)
    return _verify_packet(args, data) if data[:2] == b"PK" else _verify_drawing(args, data)


def _verify_shop(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        found = shop.verify()
        entries = list(shop.journal())
    head = f"{entries[-1].seq}:{entries[-1].hash}"
    if as_json(args):
        show_json(
            {"ok": not found, "entries": len(entries), "head": head, "problems": [f.to_json() for f in found]}
        )
    else:
        say(f"{len(entries)} entries, head {head}: {'whole' if not found else 'TAMPERED'}")
        for finding in found:
            show_finding(finding)
    return TAMPERED if found else 0


def _verify_packet(args: argparse.Namespace, data: bytes) -> int:
    from ledger.domain.finding import Finding
    from ledger.packet.inspect import inspect

    report = inspect(data)
    found = list(report.problems)
    against = "by itself; no shop was at hand"
    if args.shop or os.environ.get("FITUP_SHOP") or Path("fitup.db").is_file():
        with open_shop(args) as shop:
            same = shop.ident == report.shop
            against = (
                "by itself and against the shop" if same else "by itself; the shop at hand is another one"
            )
            if same and report.head and not shop.holds(report.head):
                found.append(
                    Finding(
                        "not_in_the_shop",
                        "the shop's journal does not hold this packet's entry",
                        where=report.head,
                    )
                )
    parts = [{"part": p.number, "revision": p.revision} for p in report.parts]
    if as_json(args):
        body = {
            "ok": not found,
            "head": report.head,
            "parts": parts,
            "person": report.person,
            "key": report.signer_key,
        }
        show_json({**body, "against": against, "problems": [f.to_json() for f in found]})
        return TAMPERED if found else 0
    names = ", ".join(f"{p['part']} {p['revision']}" for p in parts)
    say(f"packet of {names}, head {report.head}: {'whole' if not found else 'TAMPERED'}, checked {against}")
    say(f"  locked by {report.person} with key {report.signer_key[:16]}: compare it with the key you know")
    for finding in found:
        show_finding(finding)
    return TAMPERED if found else 0


def _verify_drawing(args: argparse.Namespace, data: bytes) -> int:
    with open_shop(args) as shop:
        standing = shop.stands(data)
    if not standing.number:
        from ledger.profile.scan import scan

        scan(data)
    state = "not locked" if not standing.number else "locked" if standing.current else "superseded"
    if as_json(args):
        show_json(
            {
                "state": state,
                "sha256": standing.sha256,
                "part": standing.number or None,
                "revision": standing.revision or None,
            }
        )
    elif standing.number:
        say(f"{args.file}: byte for byte {standing.number} revision {standing.revision}, {state}")
    else:
        say(f"{args.file}: not byte for byte a locked revision; do not send it")
    return 0 if standing.current else 1
