"""Commands about judging, signing, locking and what keeps a job: their names and help, nothing heavy imported."""

from __future__ import annotations

from typing import Any


def of_release(add: Any) -> None:
    """The commands from the verdict to the lock, and those about the job as a whole."""
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
        "guard",
        "whether each DXF of a folder is a locked and current revision, byte for byte; exit 0 only then",
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
