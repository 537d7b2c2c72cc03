"""What is said of a proposal: what it is, why, how sure, and what is left to say."""

from __future__ import annotations

from collections.abc import Iterator
from string import ascii_lowercase
from typing import Final

from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm
from ledger.suggestion.proposals import Choice, Proposal
from ledger.suggestion.sizes import without_clearance

LEAST_CHANCE: Final = 1e-9


def headline(of: Proposal) -> str:
    """The two parts, the fastener, the joint, how many holes, and how sure."""
    over = f", {of.a} turned over" if all(c.turned_over for c in of.choices) else ""
    sure = "two versions of one part?" if of.versions else of.sure
    return f"{of.a} on {of.b}: {of.fastener} {of.joint}, {counted(of.agreeing, 'hole')}{over}; {sure}"


def reasons(of: Proposal) -> Iterator[str]:
    """Why it is proposed, and what to know of it."""
    yield f"{_of(of, 0)} in {of.a} {'meets' if of.agreeing == 1 else 'meet'} {_of(of, 1)} in {of.b}; {_by_chance(of)}"
    if of.margin_mm is not None:
        passes = "" if of.margin_mm >= 0 else f": {of.fastener} does not pass as drawn"
        yield f"margin {show_mm(of.margin_mm)} nominal{passes}"
    if of.unusual:
        yield f"no table has these holes for {of.fastener}; check the size"
    bare = without_clearance(min(of.sizes_mm), inch=False)
    if bare and bare != of.fastener and of.joint == "through":
        yield f"{bare} would have no clearance in holes of {show_mm(min(of.sizes_mm), 2)}"
    first = of.choices[0]
    for a, b, mm in zip(
        first.holes_a[of.agreeing :], first.holes_b[of.agreeing :], first.off_mm, strict=True
    ):
        yield f"{a} of {of.a} is {show_mm(mm, 2)} off {b} of {of.b}: taken into the groups, so that it is checked"
    left = [n - len(first.holes_a) for n in of.of]
    if min(left) > 0:
        yield (
            f"left out on both: {counted(left[0], 'hole')} of {of.a} and {counted(left[1], 'hole')} of {of.b} of these "
            "sizes; if some of them are meant to meet, a drawing is wrong"
        )
    if of.also:
        yield f"{counted(of.also, 'more hole meets', 'more holes meet')} there"
    if of.beside:
        yield f"other holes of the two agree, too: {', '.join(of.beside)}"
    if of.joint == "tapped":
        yield f"holes of {of.b} to be tapped: fitup operation {of.b} LABEL … --as tapped --thread {of.fastener}"


def choices(of: Proposal) -> Iterator[str]:
    """The holes; of several ways each with its letter."""
    for letter, choice in zip(ascii_lowercase, of.choices, strict=False):
        lead = f"{letter}: " if len(of.choices) > 1 else ""
        yield f"{lead}{_holes(of, choice)}"


def _holes(of: Proposal, choice: Choice) -> str:
    over = ", turned over" if choice.turned_over and len({c.turned_over for c in of.choices}) > 1 else ""
    return f"{of.a} {' '.join(choice.holes_a)}{over} on {of.b} {' '.join(choice.holes_b)}"


def _of(of: Proposal, side: int) -> str:
    size = show_mm(of.sizes_mm[side], 2)
    every = of.of[side]
    return (
        f"all {every} holes of {size}"
        if every == of.agreeing
        else f"{of.agreeing} of {every} holes of {size}"
    )


def _by_chance(of: Proposal) -> str:
    if of.chance < LEAST_CHANCE:
        return "by chance less than once in a billion such jobs"
    if of.chance >= 1:
        return "as likely by chance"
    return f"by chance once in {round(1 / of.chance, -len(str(int(1 / of.chance))) + 1):,.0f} such jobs"
