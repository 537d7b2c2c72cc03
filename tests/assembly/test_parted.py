"""Places that bend lines part, whichever way round, are told from those that lie in one flat piece."""

from __future__ import annotations

import numpy as np
import shapely
from many_cases import hold, many_cases

from ledger.assembly.folded import parted
from ledger.assembly.space import Bend, crossed


def tabs_are_parted(seed):
    """Tabs cut free on three sides, anywhere about a plate; two places are parted unless both are in the same flat."""
    random = np.random.default_rng(seed)
    sheet, lines, tabs = shapely.box(0, 0, 400, 300), [], []
    for k in range(int(random.integers(1, 4))):
        x, y = 20 + 130 * k, float(random.uniform(20, 120))
        wide, high = random.uniform(40, 90, 2)
        slot = shapely.box(x, y, x + wide, y + high) - shapely.box(x + 3, y - 1, x + wide - 3, y + high - 3)
        sheet = sheet - slot
        lines.append(((x + 3, y), (x + wide - 3, y)))
        tabs.append(shapely.box(x + 3, y, x + wide - 3, y + high - 3))
    points = [tuple(p) for p in random.uniform((5, 5), (395, 295), (12, 2))]
    points = [p for p in points if sheet.buffer(-1).contains(shapely.Point(p))]
    points = [p for p in points if all(abs(p[1] - a[1]) > 1 for a, _ in lines)]
    where = [next((k for k, t in enumerate(tabs) if t.contains(shapely.Point(p))), -1) for p in points]
    beside = 0
    for p, at in zip(points, where, strict=True):
        for q, there in zip(points, where, strict=True):
            assert parted(sheet, lines, (p, q)) == (at != there), (seed, p, q)
            met = crossed(p, q, tuple(Bend(a, b, 90.0, 1.0, 1.0, 1.0, up=True) for a, b in lines))
            beside += at != there and not met
    return "no straight way meets the line" if beside else None


@many_cases(suite=20, bench=500)
def test_a_tab_is_parted_from_the_plate_around_it(seeds):
    hold(tabs_are_parted, seeds, **{"no straight way meets the line": "1"})
