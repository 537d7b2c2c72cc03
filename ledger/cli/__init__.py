"""
The command line: a thin face over `ledger.job`.

Exit codes: 0 yes, 1 no (NO-GO, not usable, not locked), 2 wrong usage or refused input, 3 cannot be read,
4 tampered with, 5 the job is busy, 70 internal error, 130 stopped. With --json stdout is exactly one object, errors
included.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Sequence
from typing import Any

from ledger.cli.lines import UsageError
from ledger.cli.parser import build_parser, with_values

FAULT = 70


def main(argv: Sequence[str]) -> int:
    """Run one command; the exit code."""
    from ledger.domain.errors import FitupError, NotReleasable

    asks_json = "--json" in argv
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    if asks_json and hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(
            encoding="utf-8", errors="backslashreplace"
        )  # RFC 8259, whatever a console's own code page is
    try:
        args = build_parser().parse_args(with_values(argv))
        from ledger.cli.commands import run

        return run(args)
    except UsageError as fault:
        return _refuse(asks_json, 2, "usage", str(fault))
    except NotReleasable as fault:
        from ledger.cli.show import show_verdicts

        show_verdicts(fault.verdicts, as_json=asks_json, error=_error(1, "NotReleasable", str(fault)))
        return 1
    except FitupError as fault:
        return _refuse(asks_json, fault.exit_code, type(fault).__name__, str(fault))
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        return _refuse(asks_json, 130, "stopped", "stopped; nothing is half written")
    except Exception as fault:  # noqa: BLE001 - the last door: everything ends in one line and an exit code
        return _fault(asks_json, fault)


def _fault(asks_json: bool, fault: Exception) -> int:
    """What nobody foresaw. Raises it again where FITUP_TRACE asks for it."""
    if isinstance(fault, OSError) and fault.errno == errno.ENAMETOOLONG:
        said = "a file name is longer than this system takes: use a shorter one"
        return _refuse(asks_json, 2, "BadInput", said)
    if os.environ.get("FITUP_TRACE"):
        raise fault
    said = f"internal error, please report it: {type(fault).__name__}: {fault} (FITUP_TRACE=1 shows where)"
    return _refuse(asks_json, FAULT, "fault", said)


def _error(code: int, kind: str, message: str) -> dict[str, Any]:
    return {"error": {"kind": kind, "exit": code, "message": message}}


def _refuse(asks_json: bool, code: int, kind: str, message: str) -> int:
    if asks_json:
        from ledger.cli.show import json_line

        print(json_line(_error(code, kind, message)))  # noqa: T201 - this face speaks on stdout
    else:
        from ledger.domain.errors import visible

        print(f"fitup: {visible(message, most=4000)}", file=sys.stderr)  # noqa: T201 - likewise
    return code
