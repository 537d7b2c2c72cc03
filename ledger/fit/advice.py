"""What else to say of two patterns: which slip they look like, what would fix them, how they can be assembled wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from ledger.domain.pose import Pose
from ledger.fit.case import Fit, PatternCase
from ledger.fit.fixes import larger_holes, slots_that_save
from ledger.fit.slips import slips
from ledger.fit.ways import Plate, guard, wrong_ways

MOST_TURNS = 3


def advice(
    case: PatternCase,
    found: Fit,
    names: tuple[str, str],
    classes: Sequence[Mapping[str, float]],
    movable: tuple[bool, bool] = (True, True),
) -> Iterator[str]:
    """
    Sentences for a pattern that does not go together; none for a GO. `names` are those of A and B.

    `classes` names the diameters of clearance holes for the fastener of each fastening; `movable` says whose drawing
    can be changed.
    """
    yield from slips_told(case, found, names)
    yield from fixes_told(case, found, names, classes, movable=movable)


def fixes_told(
    case: PatternCase,
    found: Fit,
    names: tuple[str, str],
    classes: Sequence[Mapping[str, float]],
    *,
    movable: tuple[bool, bool] = (True, True),
    more: Callable[[], bool] = lambda: True,
) -> Iterator[str]:
    """What would make it go; none for a GO, and none is tried once there is no `more` time for it."""
    if found.verdict == "GO" or not more():
        return
    larger = larger_holes(case, found, classes)
    if larger:
        sizes = ", ".join(f"{d:g} mm" for d in larger.diameters_mm)
        yield (
            f"{larger.named} clearance holes ({sizes}) would fix it: "
            f"margin {larger.margin_mm:.2f} mm nominal, {larger.worst_case_margin_mm:.2f} mm worst case"
        )
    slots = slots_that_save(case, found) if more() else None
    if slots and movable[slots.side == "b"]:
        told = ", ".join(
            f"{label} from ({a[0]:.2f}, {a[1]:.2f}) to ({b[0]:.2f}, {b[1]:.2f}) mm"
            for label, (a, b), _ in slots.slots
        )
        of = names[slots.side == "b"]
        yield f"a slot would fix it, in {of}: {told}"


def slips_told(
    case: PatternCase, found: Fit, names: tuple[str, str], more: Callable[[], bool] = lambda: True
) -> Iterator[str]:
    """The slips that two patterns look like, with the drawing that each would be in; none for a GO."""
    for slip in slips(case, found, more):
        of = {"a": f"{names[0]}: ", "b": f"{names[1]}: ", "": ""}[slip.side]
        yield f"{of}{slip.text}"


def turned_by_mistake(
    case: PatternCase,
    found: Fit,
    names: tuple[str, str],
    plates: tuple[Plate, Plate],
    movable: tuple[bool, bool] = (True, True),
) -> tuple[str, str] | None:
    """How plates that go together can be assembled wrong, and what would prevent it; None where they cannot."""
    wrong = wrong_ways(found, *plates)
    if not wrong or found.pose is None:
        return None
    steps = sorted({_turned(way.pose, found.pose) for way in wrong})
    turns = [
        " and ".join(x for x in ("turned over" if o else "", f"turned {t}°" if t else "") if x)
        for o, t in steps
    ]
    more = f" and {len(turns) - MOST_TURNS} more" if len(turns) > MOST_TURNS else ""
    text = f"{names[0]} also bolts up {', or '.join(turns[:MOST_TURNS])}{more}"
    if not all(movable):
        return text, "mark the parts"
    hole = guard(case, found, *plates)
    if hole is None:
        return text, "add a hole to both that lines up only the right way round, or mark the parts"
    (ax, ay), (bx, by) = hole.move_a_mm, hole.move_b_mm
    return text, (
        f"move {hole.a} of {names[0]} by ({ax:+.2f}, {ay:+.2f}) mm and {hole.b} of {names[1]} by "
        f"({bx:+.2f}, {by:+.2f}) mm: it then bolts up only the right way round; or mark the parts"
    )


def _turned(other: Pose, shown: Pose) -> tuple[bool, int]:
    """Whether a plate lies turned over, and by how many degrees turned: so far either way is one thing to look for."""
    turn = abs((other.angle_deg - shown.angle_deg + 180) % 360 - 180)
    return other.turned_over != shown.turned_over, round(turn)
