"""Plates with random holes, some of which share a planted pattern: nothing of it is read from a file."""

from __future__ import annotations

import cmath
import math
import random
from dataclasses import dataclass

from ledger.domain.shape import Contour, Hole, Profile
from ledger.suggestion.patterns import Plate

# What holes of these sizes speak of: in A, in B, the fastener and the joint.
SPOKEN = (
    (6.6, 6.6, "M6", "through"),
    (9.0, 9.0, "M8", "through"),
    (11.0, 8.5, "M10", "tapped"),
    (13.5, 13.5, "M12", "through"),
    (5.5, 4.2, "M5", "tapped"),
)


@dataclass(frozen=True)
class Planted:
    """A pattern that A and B share, and how A lies on B."""

    a: str
    b: str
    fastener: str
    joint: str
    turned_over: bool
    holes: int


def rim(width, height):
    return Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))


def plate(name, holes, width=300.0, height=200.0, *, openings=(), unit="mm"):
    """A rectangular plate; `holes` are (place, diameter), places as complex numbers."""
    made = tuple(Hole(f"H{k}", ((z.real, z.imag),), d) for k, (z, d) in enumerate(holes, start=1))
    ring = rim(width, height)
    return Plate(name, Profile(ring, made, tuple(openings), (ring,), unit_used=unit))


def apart(rng, count, width, height, least=18.0):
    """So many random places in a rectangle, none too near to another."""
    found = []
    while len(found) < count:
        z = complex(round(rng.uniform(10, width - 10), 2), round(rng.uniform(10, height - 10), 2))
        if all(abs(z - other) >= least for other in found):
            found.append(z)
    return found


def unrelated(rng, name):
    """A plate of its own: 3 to 10 holes of one or two sizes at random places."""
    width, height = rng.uniform(150, 500), rng.uniform(150, 400)
    places = apart(rng, rng.randint(3, 10), width, height)
    sizes = rng.sample([6.6, 9.0, 11.0, 13.5, 8.5, 4.2, 5.5], 2)
    return [(z, rng.choice(sizes)) for z in places], width, height


def moved(pattern, rng, *, turned_over):
    """The pattern turned by any angle about its middle, after its other side is up where it is turned over."""
    middle = sum(pattern) / len(pattern)
    turn = cmath.rect(1, rng.uniform(0, 2 * math.pi))
    return [turn * ((z - middle).conjugate() if turned_over else z - middle) for z in pattern]


def folder(seed, plates=10, connections=3):
    """Unrelated plates, and what was planted among them: pairs of plates, each plate in one of them."""
    rng = random.Random(seed)
    bare = [unrelated(rng, "") for _ in range(plates)]
    names = [f"P{k}" for k in range(plates)]
    order = rng.sample(range(plates), 2 * connections)
    planted = []
    for i, k in zip(order[::2], order[1::2], strict=True):
        size_a, size_b, fastener, joint = rng.choice(SPOKEN)
        turned_over, count = rng.random() < 0.5, rng.randint(4, 7)
        pattern = apart(rng, count, 140, 110)
        for place, laid, size in (
            (i, moved(pattern, rng, turned_over=turned_over), size_a),
            (k, moved(pattern, rng, turned_over=False), size_b),
        ):
            holes, width, height = bare[place]
            there = [z + complex(width / 2, height / 2) for z in laid]
            kept = [(z, d) for z, d in holes if min(abs(z - y) for y in there) > 15]
            bare[place] = (kept + [(z, size) for z in there], width, height)
        planted.append(Planted(names[i], names[k], fastener, joint, turned_over, count))
    for holes, _, _ in bare:
        rng.shuffle(holes)
    return [plate(n, h, w, t) for n, (h, w, t) in zip(names, bare, strict=True)], planted
