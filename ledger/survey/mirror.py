"""
What distances leave open: a part of a network that could as well be turned over.

In the plane the points behind two others, in space behind three, can be reflected across these without any distance
changing, where no distance goes past them; so can a point whose ties all come from one line. Whatever can be turned
over by more than it is uncertain is an *image*, unless a side that was stated or a coordinate forbids it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from ledger.survey.adjust import Array
from ledger.survey.network import Network, Side

_FLAT = 2


def images(network: Network, places: Array) -> Iterator[tuple[tuple[int, ...], Array]]:
    """Every part that may be turned over, as the points that move and where everything would lie."""
    seen: set[tuple[int, ...]] = set()
    for group, across in (*_separated(network), *_flatly_tied(network, places)):
        if group in seen:
            continue
        turned = reflected(places, group, across)
        if turned is not None:
            seen.add(group)
            yield group, turned


def reflected(places: Array, group: tuple[int, ...], across: tuple[int, ...]) -> Array | None:
    """The places with a group reflected across the line or plane through some points; None where there is none."""
    if len(across) < places.shape[1]:
        return None
    origin = places[list(across)].mean(axis=0)
    values, ways = np.linalg.svd(places[list(across)] - origin)[1:]
    span = places.shape[1] - 2
    if len(values) <= span or values[span] < 1e-6 * (values[0] + 1e-300):
        return None
    normal = ways[-1]
    turned = places.copy()
    rows = list(group)
    turned[rows] -= 2 * ((places[rows] - origin) @ normal)[:, None] * normal
    return turned


def side_of(places: Array, network: Network, side: Side) -> float:
    """How far a point lies on the hand that was stated, in mm; negative where it lies on the other."""
    at = network.place_of
    origin, *others = (places[at[name]] for name in side.of)
    if network.dim == _FLAT:
        along = others[0] - origin
        normal = np.array([-along[1], along[0]])
    else:
        normal = np.cross(others[0] - origin, others[1] - origin)
    length = float(np.linalg.norm(normal))
    return side.hand * float((places[at[side.point]] - origin) @ normal) / length if length else 0.0


def _neighbours(network: Network) -> list[int]:
    """The neighbours of each point, as bits."""
    found = [0] * len(network.points)
    for tie in network.ties:
        a, b = network.place_of[tie.a], network.place_of[tie.b]
        found[a] |= 1 << b
        found[b] |= 1 << a
    return found


def _separated(network: Network) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Points whose ties to the rest all lead through as many points as the network has dimensions."""
    near = _neighbours(network)
    count = len(near)
    for cut in combinations(range(count), network.dim):
        if any(not any(near[c] >> o & 1 for o in range(count) if o not in cut) for c in cut):
            continue
        rest = (1 << count) - 1 & ~sum(1 << c for c in cut)
        parts = _parts(near, rest)
        if len(parts) > 1:
            # the part that holds the most stays; the others may turn over
            for part in sorted(parts, key=lambda p: -p.bit_count())[1:]:
                yield tuple(k for k in range(count) if part >> k & 1), cut


def _parts(near: list[int], rest: int) -> list[int]:
    parts = []
    while rest:
        reached = rest & -rest
        while True:
            wider = reached
            todo = reached
            while todo:
                low = todo & -todo
                wider |= near[low.bit_length() - 1] & rest
                todo ^= low
            if wider == reached:
                break
            reached = wider
        parts.append(reached)
        rest &= ~reached
    return parts


def _flatly_tied(network: Network, places: Array) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Single points with their neighbours: where these lie nearly on one line, a mirror image fits nearly as well."""
    for place, bits in enumerate(_neighbours(network)):
        across = tuple(k for k in range(len(places)) if bits >> k & 1)
        if len(across) > network.dim:
            yield (place,), across
