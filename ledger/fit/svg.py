"""
A fit as a picture: SVG, in B's coordinates, y upwards.

B is drawn in blue, A laid on it in orange; the tightest hole has a double ring; a wrong hole of A has an arrow to
where it would meet its counterpart. Arrows shorter than can be seen are drawn longer, and their true length is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from ledger.domain.errors import visible
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.case import Fit

BLUE, ORANGE, RED, INK = "#56b4e9", "#e69f00", "#c0392b", "#222222"
SAGITTA: Final = 0.00005  # of the size of what is drawn
SHORTEST_ARROW: Final = 0.05
WIDTH_PX: Final = 1000


def fit_svg(
    found: Fit,
    holes: tuple[Sequence[Hole], Sequence[Hole]],
    rings: tuple[Sequence[Contour], Sequence[Contour]],
    *,
    title: str,
) -> str:
    """The picture of a fit; where no pose is known both are drawn as they are. Rings: outline and openings."""
    pose = found.pose or Pose()
    placed = tuple(pose.place_contour(r) for r in rings[0])
    laid = tuple(Hole(h.label, tuple(pose.place(p) for p in h.core), h.diameter_mm) for h in holes[0])
    every = [*placed, *rings[1], *(h.contour() for h in (*laid, *holes[1]))]
    low_x, low_y, high_x, high_y = _box(every)
    size = max(high_x - low_x, high_y - low_y, 1.0)
    edge = size * 0.08
    view = (low_x - edge, -high_y - edge, high_x - low_x + 2 * edge, high_y - low_y + 3 * edge)
    thin = size / 500
    body = [
        *(_ring(r, size, BLUE, thin) for r in (*rings[1], *(h.contour() for h in holes[1]))),
        *(_ring(r, size, ORANGE, thin) for r in (*placed, *(h.contour() for h in laid))),
        *_tightest(found, laid, size),
        *_arrows(found, laid, pose, size),
        _text(title, (low_x, low_y - 1.6 * edge), size, INK),
    ]
    numbers = " ".join(f"{v:.6g}" for v in view)
    height = WIDTH_PX * view[3] / view[2]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_PX}" height="{height:.0f}" viewBox="{numbers}">\n'
        '<defs><marker id="tip" viewBox="0 0 10 10" refX="10" refY="5" markerWidth="6" markerHeight="6" '
        f'orient="auto"><path d="M0 0L10 5L0 10z" fill="{RED}"/></marker></defs>\n'
        f'<rect x="{view[0]:.6g}" y="{view[1]:.6g}" width="{view[2]:.6g}" height="{view[3]:.6g}" fill="white"/>\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _box(rings: Sequence[Contour]) -> tuple[float, float, float, float]:
    points = [p for r in rings for p in r.flattened(0.1)] or [(0.0, 0.0)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _ring(ring: Contour, size: float, colour: str, thin: float) -> str:
    points = ring.flattened(max(size * SAGITTA, 1e-3))
    path = " ".join(f"{x:.4f},{-y:.4f}" for x, y in points)
    return f'<polygon points="{path}" fill="none" stroke="{colour}" stroke-width="{thin:.4g}"/>'


def _tightest(found: Fit, laid: Sequence[Hole], size: float) -> Iterator[str]:
    if found.tightest is None:
        return
    for hole in laid:
        if hole.label == found.tightest[0]:
            x, y = hole.centre
            for grow in (1.3, 1.45):
                yield (
                    f'<circle cx="{x:.4f}" cy="{-y:.4f}" r="{hole.diameter_mm / 2 * grow:.4f}" fill="none" '
                    f'stroke="{INK}" stroke-width="{size / 700:.4g}"/>'
                )
            named = f"{found.tightest[0]} on {found.tightest[1]}: {_room(found):.2f} mm"
            yield _text(named, (x + hole.diameter_mm, y + hole.diameter_mm * 0.8), size, INK)


def _room(found: Fit) -> float:
    rooms = [p.margin_mm for p in found.pairs] + [w.allowed_mm - w.offset_mm for w in found.wrong]
    return min(rooms, default=0.0)


def _arrows(found: Fit, laid: Sequence[Hole], pose: Pose, size: float) -> Iterator[str]:
    by_label = {h.label: h for h in laid}
    for wrong in found.wrong:
        hole = by_label.get(wrong.a)
        if hole is None:
            continue
        (x, y), (dx, dy) = hole.centre, pose.turn(wrong.move_a_mm)
        length = math.hypot(dx, dy)
        longer = max(1.0, SHORTEST_ARROW * size / length) if length > 0 else 0.0
        yield (
            f'<line x1="{x:.4f}" y1="{-y:.4f}" x2="{x + longer * dx:.4f}" y2="{-(y + longer * dy):.4f}" '
            f'stroke="{RED}" stroke-width="{size / 300:.4g}" marker-end="url(#tip)"/>'
        )
        told = f"{wrong.a}: too small" if wrong.kind == "too small" else f"{wrong.a}: {length:.2f} mm"
        yield _text(told, (x + hole.diameter_mm, y - hole.diameter_mm), size, RED)


def _text(text: str, at: Point, size: float, colour: str) -> str:
    said = escape(visible(text))
    return (
        f'<text x="{at[0]:.4f}" y="{-at[1]:.4f}" font-family="sans-serif" font-size="{size / 40:.4g}" '
        f'fill="{colour}">{said}</text>'
    )
