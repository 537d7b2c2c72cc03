"""
Revision letters: A, B, C … Y, AA, AB … without I, O, Q, S, X and Z, easily misread.

Source: ASME Y14.35 (revision of engineering drawings), from memory.
"""

from __future__ import annotations

from ledger.domain.errors import BadInput, visible

LETTERS = "ABCDEFGHJKLMNPRTUVWY"
_MOST = 3


def next_letter(letter: str | None) -> str:
    """The letter after this one; the first for None. Raises BadInput for what is no revision letter."""
    return _spell(0 if letter is None else letter_order(letter) + 1)


def letter_order(letter: str) -> int:
    """The place of a letter in the series, from 0: Y is before AA. Raises BadInput."""
    if not 0 < len(letter) <= _MOST or any(c not in LETTERS for c in letter):
        raise BadInput(
            f"{visible(letter)!r} is not a revision letter; use A to Y without I, O, Q, S, X, then AA"
        )
    order = 0
    for c in letter:
        order = order * len(LETTERS) + LETTERS.index(c) + 1
    return order - 1


def _spell(order: int) -> str:
    order, last = divmod(order, len(LETTERS))
    return (_spell(order - 1) if order else "") + LETTERS[last]
