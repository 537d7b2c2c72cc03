"""
Certificates: why no pose leaves more than a margin.

Weights L_i >= 0 with sum 1 and vectors |u_i| <= 1 with sum L_i u_i = 0 bound the margin at every angle by a *wave*
in it, since shifts cancel (see minimax). Here they are made from active pairs, and their waves told.
"""

from __future__ import annotations

import cmath
from dataclasses import dataclass
from itertools import product

from ledger.domain.pose import Pose
from ledger.fit.descent import Held
from ledger.fit.layout import Layout, Plane

Wave = tuple[float, complex]  # const, z: const - Re(z exp(i angle))
BALANCED = 1e-13


@dataclass(frozen=True, slots=True)
class Certificate:
    """
    A dual bound on the margin at every angle: which pairs, with what weights and vectors.

    The vectors are in B's directions, or in those of A (turned over where it is) when they turn with it.
    """

    pairs: tuple[int, ...]
    weights: tuple[float, ...]
    rays: tuple[complex, ...]
    turning: bool = False


@dataclass(frozen=True, slots=True)
class Proof:
    """
    What shows that no pose leaves more: certificates of the margin, whose indices count `pairs` (labels of A and B).

    `worst` likewise for the worst case, with the pose that has its margin; None where all pairs lose alike, so that the
    worst case follows from the margin.
    """

    pairs: tuple[tuple[str, str], ...]
    certificates: tuple[Certificate, ...]
    worst: tuple[tuple[Certificate, ...], Pose] | None = None


def two(pairs: tuple[int, ...], gap: Plane) -> Certificate | None:
    """Two pairs that pull opposite ways."""
    one, two = (complex(gap[k]) / abs(complex(gap[k])) for k in pairs)
    pull = one - two
    if abs(pull) < 1:
        return None
    ray = pull / abs(pull)
    return Certificate(pairs, (0.5, 0.5), (ray, -ray))


def three(pairs: tuple[int, ...], gap: Plane) -> Certificate | None:
    """Three pairs whose rays enclose the origin; weights by the triangle's areas."""
    u, v, w = (complex(gap[k]) / abs(complex(gap[k])) for k in pairs)
    areas = [_cross(v, w), _cross(w, u), _cross(u, v)]
    total = sum(areas)
    if abs(total) < 1e-7 or min(x / total for x in areas) < 0:  # noqa: PLR2004
        return None
    return Certificate(pairs, (areas[0] / total, areas[1] / total, areas[2] / total), (u, v, w))


def _cross(x: complex, y: complex) -> float:
    return x.real * y.imag - x.imag * y.real


def waves(layout: Layout, certificate: Certificate) -> tuple[Wave, ...]:
    """The certificate's bound as waves; the bound is the greatest of them."""
    const, z, swings = split(layout, certificate)
    signs = product((1, -1), repeat=len(swings))
    return tuple((const, z + sum(s * q for s, q in zip(row, swings, strict=True))) for row in signs)


def split(layout: Layout, certificate: Certificate) -> tuple[float, complex, list[complex]]:
    """Constant, wave, and what each slot that lies crosswise to the vectors may swing it by."""
    const, z, swings = 0.0, 0j, []
    for k, weight, ray in zip(certificate.pairs, certificate.weights, certificate.rays, strict=True):
        still, half, moved, swung = layout.b, layout.hb, layout.a, layout.ha
        if certificate.turning:
            still, half, moved, swung = -layout.a, layout.ha, -layout.b.conj(), layout.hb.conj()
        back = ray.conjugate()
        const += weight * (
            float(layout.c[k]) + (back * complex(still[k])).real + abs((back * complex(half[k])).real)
        )
        along = ray if certificate.turning else back
        z += weight * along * complex(moved[k])
        if swung[k]:
            swings.append(weight * along * complex(swung[k]))
    return const, z, swings


def peak(layout: Layout, held: Held) -> tuple[Certificate, float] | None:
    """
    The certificate of a local optimum and the greatest it allows on the whole circle; None where none balances.

    Its wave is stationary at the pose: with fixed vectors it has its peak there where the holes of A push inwards,
    and with vectors that turn with A where they push outwards.
    """
    pairs = tuple(held.pairs)
    made = _balance(pairs, held, layout)
    if made is None:
        return None
    turn = cmath.rect(1, held.angle)
    rows = list(zip(made.pairs, made.weights, made.rays, strict=True))
    level = sum(w * layout.c[k].item() for k, w, _ in rows)
    z = sum(w * (u.conjugate() * complex(layout.a[k])) for k, w, u in rows)
    if (z * turn).real < 0:
        still = sum(w * (u.conjugate() * complex(layout.b[k])).real for k, w, u in rows)
        return made, level + still + abs(z)
    back = turn.conjugate()
    z = sum(w * (u.conjugate() * complex(layout.b[k])) for k, w, u in rows)
    still = sum(w * (u.conjugate() * turn * complex(layout.a[k])).real for k, w, u in rows)
    turning = Certificate(pairs, made.weights, tuple(back * u for u in made.rays), turning=True)
    return turning, level - still + abs(z)


def _balance(pairs: tuple[int, ...], held: Held, layout: Layout) -> Certificate | None:
    if len(pairs) == 2:  # noqa: PLR2004 - two, three or four pairs hold a pose
        return two(pairs, held.rays)
    if len(pairs) == 3:  # noqa: PLR2004
        return three(pairs, held.rays)
    return _four(pairs, held, layout) if len(pairs) == 4 else None  # noqa: PLR2004


def _four(pairs: tuple[int, ...], held: Held, layout: Layout) -> Certificate | None:
    """Four pairs in balance of force and moment; weights by the volumes that the other three span."""
    turn = cmath.rect(1, held.angle)
    rays = [complex(held.rays[k]) for k in pairs]
    rays = [u / abs(u) for u in rays]
    moments = [_cross(turn * complex(layout.a[k]), u) for k, u in zip(pairs, rays, strict=True)]

    def volume(i: int, j: int, k: int) -> float:
        u, v, w = rays[i], rays[j], rays[k]
        return moments[i] * _cross(v, w) + moments[j] * _cross(w, u) + moments[k] * _cross(u, v)

    volumes = [volume(1, 2, 3), -volume(0, 2, 3), volume(0, 1, 3), -volume(0, 1, 2)]
    total = sum(volumes)
    if total == 0:
        return None
    weights = tuple(x / total for x in volumes)
    rest = abs(sum(w * u for w, u in zip(weights, rays, strict=True)))
    if min(weights) < 0 or rest > BALANCED:
        return None
    return Certificate(pairs, weights, tuple(rays))
