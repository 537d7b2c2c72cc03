"""Commands about people: who is enrolled, in which roles, and who founded the job."""

from __future__ import annotations

import argparse

from ledger.cli.context import answer, as_json, keeper, open_job
from ledger.cli.show import say, show_json
from ledger.domain.short_key import short_key


def people(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        rows = [{"name": n, "roles": list(r), "key": k} for n, r, k in job.people()]
    if as_json(args):
        show_json({"people": rows})
    for row in rows if not as_json(args) else ():
        held = f"{', '.join(row['roles'])}; key {row['key'][:16]}" if row["roles"] else "retired"
        say(f"{row['name']}: {held}")
    return 0


def roles(args: argparse.Namespace) -> int:
    given = [r.strip() for r in args.roles.split(",") if r.strip()]
    with open_job(args) as job:
        entry = job.change_roles(args.name, given, args.reason, by=keeper(args))
    return answer(args, f"{args.name} may sign as {', '.join(given)}", entry=entry, roles=given)


def retire(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        entry = job.change_roles(args.name, (), args.reason, by=keeper(args))
    return answer(args, f"{args.name} is retired, with every key; earlier signatures stay valid", entry=entry)


def root(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        key = job.root()
    words = f"root of the job: {short_key(key)}" if key else "nobody has founded this job: fitup enroll NAME"
    return answer(args, words, root=key or None, short=short_key(key) or None)
