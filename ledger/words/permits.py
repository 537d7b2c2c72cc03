"""A permit in one line."""

from __future__ import annotations

import re

from ledger.domain.amounts import read_amount
from ledger.domain.errors import BadInput
from ledger.domain.moment import day
from ledger.words.forms import PERMIT
from ledger.words.line import Line, reads

_UNTIL = re.compile(r"(?P<reason>.*?)\s*[,;]\s*until\s+(?P<day>\S+)\s*", re.DOTALL)

_UP_TO = re.compile(
    r"(?P<reason>.*?)\s*[,;]\s*up\s+to\s+(?P<value>[^,;]+?)\s*(?P<rest>[,;].*)?", re.DOTALL | re.IGNORECASE
)


@reads(PERMIT)
def permit_line(text: str, today: str = "") -> Line:
    """
    `cut wider on site, up to 240.5 mm, until 2026-06-30`, which is not to be before `today`.

    Without a last day it holds as long as the revision is open, with a value while what is found is no worse.
    """
    capped = _UP_TO.fullmatch(text)
    up_to = read_amount(capped["value"]).written if capped else ""
    text = f"{capped['reason']}{capped['rest'] or ''}" if capped else text
    found = _UNTIL.fullmatch(text)
    reason, until = (found["reason"].strip(), found["day"]) if found else (text.strip(), "")
    if not reason:
        raise BadInput("reason missing; expected REASON, until YYYY-MM-DD")
    if until and day(until).isoformat() < today:
        raise BadInput(f"{until} is past; expected the permit's last day, today or later")
    bound = f"through {until}" if until else "no expiry date"
    bound += f", no worse than {up_to}" if up_to else ""
    return Line({"reason": reason, "until": until, "up_to": up_to}, f"{bound}: {reason}")


def permit_words(reason: str, until: str, up_to: str) -> str:
    """A permit as the line that would give it."""
    return reason + (f", up to {up_to}" if up_to else "") + (f", until {until}" if until else "")
