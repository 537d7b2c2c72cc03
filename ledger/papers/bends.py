"""
What the papers say of bends: as entered, the default where nothing was, and which bend line is which.

Bends that are bent alike share a row. What was not entered is named as assumed, so that nobody takes it for required.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.domain.bend import ends_of, lost_bends
from ledger.domain.dimension_words import figure
from ledger.domain.record import Part
from ledger.standards.bending import bent_in, off_per_bend


def bend_rows(part: Part) -> Iterator[tuple[str, str]]:
    """Labels and what is done there; bends without data come last."""
    alike: dict[str, list[str]] = {}
    lost = {b.label for b in lost_bends(part.profile.bends if part.profile else (), part.bends)}
    unsaid = []
    for label in part.bend_lines:
        bend = None if label in lost else part.bend(label)
        if bend is None:
            unsaid.append(label)
            continue
        found = bent_in(part, bend)
        words = bend.words
        if found and found.vendors:
            words += f"; {', '.join(found.vendors)}"
        if found and found.assumed:
            words += f"; assumed, not required: {', '.join(found.assumed)}"
        alike.setdefault(words, []).append(label)
    for words, labels in alike.items():
        yield ", ".join(labels), words
    if unsaid:
        yield ", ".join(unsaid), "angles, directions, inside radii not recorded: ask"


def bend_checks(part: Part) -> Iterator[tuple[str, str, str]]:
    """For every bend with data: its name, angle and radius to look for, and the place of its line on the flat."""
    _, off_deg, _ = off_per_bend()
    for label, stroke in part.bend_lines.items():
        bend, ends = part.bend(label), ends_of(stroke)
        if bend is None or ends is None:
            continue
        (ax, ay), (bx, by) = ends
        place = f"line {figure(ax, 3)}, {figure(ay, 3)} to {figure(bx, 3)}, {figure(by, 3)}"
        yield f"bend {label}", f"{bend.words}; ±{off_deg:g}° by common practice", place
