"""What came of a paper template, in one line."""

from __future__ import annotations

from ledger.domain.errors import UnknownName
from ledger.domain.record import TRIED
from ledger.words.forms import TRIED as FORM
from ledger.words.line import Line, reads


@reads(FORM)
def trial_line(text: str) -> Line:
    """`fits: S2 is tight`; `does not fit: S2 is 4 mm off`."""
    word, _, note = (piece.strip() for piece in text.partition(":"))
    result = " ".join(word.lower().split())
    if result not in TRIED:
        raise UnknownName("result of a trial", word, TRIED)
    return Line({"result": result, "note": note}, trial_words(result, note))


def trial_words(result: str, note: str) -> str:
    """What came of it as the line that would enter it."""
    return f"{result}: {note}" if note else result
