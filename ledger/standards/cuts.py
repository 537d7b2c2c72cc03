"""
What a cutting process can make: the smallest hole and web, and what size and edge it holds.

*Deviation*: a cut size may come out so much larger or smaller (ISO 9013). *Taper*: the perpendicularity tolerance
u of the cut edge, over the whole thickness.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.standards.processes import process
from ledger.standards.table import band, source_of, table


@dataclass(frozen=True, slots=True)
class Smallest:
    """Hole and web that come out well, and the least of both, as multiples of the thickness; the least kerf in mm."""

    hole: float
    web: float
    hole_least: float
    web_least: float
    kerf_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class CutSize:
    """How far a size may come out, either way, and the taper of its edge (None: not known), mm."""

    deviation_mm: float
    taper_mm: float | None
    source: str


@dataclass(frozen=True, slots=True)
class HoleShrink:
    """How much smaller in diameter than drawn a hole may come out, mm."""

    shrink_mm: float
    source: str


def smallest(process_name: str) -> Smallest | None:
    """What a process cuts well, or None where no rule is known. Raises UnknownName for no process."""
    name = process(process_name).name
    row = next((r for r in table("smallest")["process"] if r["name"] == name), None)
    if row is None:
        return None
    return Smallest(
        row["hole"], row["web"], row["hole_least"], row["web_least"], float(row["kerf"][0]),
        source_of("smallest", row),
    )  # fmt: skip


def cut_size(process_name: str, thickness_mm: float, size_mm: float) -> CutSize | None:
    """
    What ISO 9013 gives for a size in a thickness; None where no value is known. Raises UnknownName.

    A size at a bound belongs to the range above (10 to below 35 mm), a thickness to the one below (over 6.3 up to 10).
    """
    name, data = process(process_name).name, table("cut_sizes")
    place = band(data["sizes"]["below"], size_mm, edge_above=True)
    for made in data["class"]:
        if name not in made["processes"] or place is None:
            continue
        for row in made["bands"]:
            deviation = row["deviations"][place]
            if row["over"] < thickness_mm <= row["up_to"] and deviation >= 0:
                return CutSize(float(deviation), _taper(name, thickness_mm), source_of("cut_sizes", made))
    return None


def hole_shrink(process_name: str, thickness_mm: float | None, size_mm: float) -> HoleShrink:
    """
    How much smaller than drawn a hole of this size may come out of this thickness. Raises UnknownName.

    A thermal cut: the deviation of ISO 9013. Where the table has no value for the thickness or the size, that of the
    next thicker band, or else the next larger size, stands in; above the thickest band its value grows with the
    thickness (own estimate, on the safe side). A thickness that is not known is taken for the thickest band.
    """
    made = process(process_name)
    if made.hole_shrink_mm is not None:
        return HoleShrink(made.hole_shrink_mm, made.source)
    data = table("cut_sizes")
    held = next(c for c in data["class"] if made.name in c["processes"])
    found = band(data["sizes"]["below"], size_mm, edge_above=True)
    place = len(data["sizes"]["below"]) if found is None else found
    bands = sorted(held["bands"], key=lambda b: float(b["up_to"]))
    thickest = float(bands[-1]["up_to"])
    thickness_mm = thickest if thickness_mm is None else thickness_mm
    fitting = [b for b in bands if thickness_mm <= b["up_to"]] or bands[-1:]
    known = [d for b in fitting for d in (*b["deviations"][place:], *b["deviations"][-1:]) if d >= 0]
    return HoleShrink(float(known[0]) * max(1.0, thickness_mm / thickest), source_of("cut_sizes", held))


def perpendicularity_mm(number: int, thickness_mm: float) -> float:
    """The tolerance u of a range of ISO 9013 at a thickness. Raises StopIteration for a range not known here."""
    row = next(r for r in table("cut_sizes")["range"] if r["number"] == number)
    return float(row["base"] + row["slope"] * thickness_mm)


def _taper(name: str, thickness_mm: float) -> float | None:
    number = next((r["number"] for r in table("cut_sizes")["range"] if name in r["processes"]), None)
    return None if number is None else perpendicularity_mm(number, thickness_mm)
