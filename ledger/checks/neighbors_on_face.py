"""
Two parts that are bolted on one face of a third do not overlap.

Each pattern fits by itself, and no connection says that the two parts meet. Parts that a connection bolts to each
other, or that take the same holes of the third, are a stack by design. Looked at is every way to bolt them on, and the
play in it: a *stop* is for what lies over each other in every position, a *warning* for what does in some, or where it
is not known.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, product
from typing import Final

from ledger.cases.answers import DoesNotApply
from ledger.cases.connections import ConnectionCase
from ledger.cases.surroundings import SurroundedConnection
from ledger.cases.thirds import Spanning, neighbours
from ledger.checks._beside import in_one_plane
from ledger.checks._cover import Covered, always_meet, covered, meet
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.domain.finding import Finding

_MOST: Final = 1024  # pairs of ways that are looked at


@check(
    on=SurroundedConnection,
    source="common practice: areas of plane geometry, the flattening and the play in the holes counted against a stop",
    codes=("neighbors_overlap", "neighbors_unknown"),
    severity="stop",
    not_checked="flanges of neighbors that overhang each other above the face",
)
def neighbors_on_face(seen: SurroundedConnection) -> Iterator[Finding]:
    """
    What is bolted beside something else finds its place free.

    The second bracket does not lie down because the first one is there, and neither drawing shows it.
    """
    spans = [s for s in neighbours(seen) if in_one_plane(s) and not _stacked(seen, s)]
    if not spans:
        raise DoesNotApply
    for span in spans:
        yield from _judged(span)


def _judged(span: Spanning) -> Iterator[Finding]:
    together, where, fix = _names(span)
    bare = [m.plies[p].part.number for m, p in _both(span) if not _outlined(m, p)]
    if bare:
        yield _unknown(f"{together} may overlap: {bare[0]} has no outline", where)
        return
    first, second = (list(covered(m, p)) for m, p in _both(span))
    pairs = list(islice(product(first, second), _MOST))
    over = [meet(one.may, other.may) for one, other in pairs]
    unlisted = [_unlisted(m, p, len(c)) for (m, p), c in zip(_both(span), (first, second), strict=True)]
    left = next(filter(None, unlisted), "") or (
        "they can be bolted on in too many ways" if len(pairs) < len(first) * len(second) else ""
    )
    if pairs and not left and all(always_meet(one, other) for one, other in pairs):
        yield Finding(
            "neighbors_overlap",
            f"{together} overlap where their bolts hold them, on one face",
            severity="stop",
            where=where,
            fix=fix,
        )
    elif any(over):
        ways = f"in {sum(over)} of {len(over)} ways to bolt them on" if len(over) > 1 else "in some positions"
        yield Finding(
            "neighbors_overlap",
            f"{together} may overlap on one face, {ways}{_why(span, pairs)}",
            severity="warning",
            where=where,
            fix=f"make sure that they are bolted on the other way; or {fix}",
        )
    elif left:
        yield _unknown(f"{together} may overlap: {left}", where)


def _unknown(message: str, where: str) -> Finding:
    return Finding(
        "neighbors_unknown",
        message,
        severity="warning",
        where=where,
        fix="lay one on the other in the drawing, or enter their positions in their connections",
    )


def _names(span: Spanning) -> tuple[str, str, str]:
    """Both parts on the third in words, the place that a permit names, and how to mend it."""
    first, second = sorted((span.first, span.second), key=lambda m: m.connection.name)
    third = span.through.part
    numbers = sorted(m.plies[p].part.number for m, p in _both(span))
    parts = sorted((m.plies[p].part for m, p in _both(span)), key=lambda p: p.number)
    mend = joined(
        [(p, f"move the bolt pattern of {p.number} or trim it") for p in parts], "bolt them on elsewhere"
    )
    fix = f"{mend}; where one overlaps the other by design, enter both and {third.number} as one connection"
    if third.form != "cut":
        fix += f"; where they are on two faces of {third.number}, name these: {third.number}:GROUP:FACE"
    together = f"{numbers[0]} and {numbers[1]} on {third.number}"
    return together, f"{first.connection.name}/{second.connection.name}", fix


def _outlined(connection: ConnectionCase, place: int) -> bool:
    profile = connection.plies[place].part.profile
    return profile is not None and profile.outline is not None


def _unlisted(connection: ConnectionCase, place: int, looked_at: int) -> str:
    """Why a part may lie elsewhere than was looked at; empty where it cannot."""
    fit, number = connection.best_fit, connection.plies[place].part.number
    if not looked_at:
        return f"position of {number} is not known"
    turns = fit is not None and len(fit.pairs) == 1
    return (
        f"{number} can be bolted on in {fit.ways} ways" if fit and not turns and fit.ways > looked_at else ""
    )


def _why(span: Spanning, pairs: list[tuple[Covered, Covered]]) -> str:
    """What makes it a matter of position: a bend, one bolt, or the play in the holes."""
    said = []
    for connection, place in _both(span):
        part, fit = connection.plies[place].part, connection.best_fit
        if part.profile is not None and part.profile.bends:
            said.append(f"{part.number} is bent")
        if fit is not None and len(fit.pairs) == 1 and connection.connection.position is None:
            said.append(f"{part.number} turns freely on its bolt")
    if not said and len(pairs) == 1:
        said.append("the play in their holes may let them pass each other")
    return f"; {', '.join(said)}" if said else ""


def _both(span: Spanning) -> Iterator[tuple[ConnectionCase, int]]:
    return zip((span.first, span.second), span.places, strict=True)


def _stacked(seen: SurroundedConnection, span: Spanning) -> bool:
    """Whether a connection bolts both to each other."""
    expected = {m.plies[p].part.number for m, p in _both(span)}
    return any(
        m.connection.kind == "bolted" and expected <= {p.part.number for p in m.plies} for m in seen.around
    )
