"""
Where the search for a network's points begins, and how an answer is laid on its datum.

Distances that were not measured are taken along the shortest way through those that were; classical scaling turns
them into places. Further starts shake those places, so that a point that was bent over can find its side.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ledger.survey.adjust import Array, Mask
from ledger.survey.network import Network

_SEED = 20260301  # the same network is always searched in the same way


def held_by_datum(network: Network) -> Mask:
    """Which coordinates the datum fixes: none where enough points have coordinates."""
    held = np.zeros((len(network.points), network.dim), dtype=bool)
    if len({m.point for m in network.marks}) < network.dim:
        for place in range(min(network.dim, len(network.points))):
            held[place, place:] = True
    return np.asarray(held.ravel(), dtype=bool)


def starts(network: Network, how_many: int) -> Iterator[Array]:
    """Places to begin from, best guess first, laid on the datum."""
    rng = np.random.default_rng(_SEED)
    guess = _scaled(network)
    size = float(np.abs(guess).max()) + 1.0
    yield from on_datum(network, guess)
    for turn in range(1, how_many):
        shaken = guess + rng.normal(0, size * 0.15 * turn, guess.shape)
        yield from on_datum(network, shaken)


def laid_on_datum(network: Network, places: Array) -> Array:
    """The same shape with its first point at the origin, the second on +x, the third on the +y side."""
    laid = places - places[0]
    for axis in range(min(network.dim - 1, len(laid) - 1)):
        laid = laid @ _turn(laid[axis + 1], axis)
    if network.dim == 2:  # noqa: PLR2004 - flat
        return upright(np.asarray(laid, dtype=float))
    if len(laid) > network.dim:
        laid[:, 2] *= _sign(laid[network.dim :, 2])
    return np.asarray(laid, dtype=float)


def upright(places: Array) -> Array:
    """A flat shape or its mirror image: the one whose first point off the x axis is on the +y side."""
    made = places.copy()
    made[:, 1] *= _sign(made[:, 1])
    return made


def mirrored(places: Array) -> Array:
    """The mirror image across the last axis."""
    made = places.copy()
    made[:, -1] *= -1
    return made


def _sign(values: Array) -> float:
    size = float(np.abs(values).max(initial=0.0))
    off = [v for v in values if abs(v) > 1e-3 * size]
    return -1.0 if off and off[0] < 0 else 1.0


def _turn(direction: Array, axis: int) -> Array:
    """The rotation, to be put behind rows, that brings a direction's rest onto +axis, earlier axes kept."""
    rest = direction[axis:]
    length = float(np.linalg.norm(rest))
    turn = np.eye(len(direction))
    if length == 0:
        return turn
    basis = np.column_stack([rest / length, np.eye(len(rest))])
    q, r = np.linalg.qr(basis)
    q = q * np.where(np.diag(r) < 0, -1.0, 1.0)
    if np.linalg.det(q) < 0:
        q[:, -1] *= -1
    turn[axis:, axis:] = q
    return turn


def on_datum(network: Network, guess: Array) -> Iterator[Array]:
    """A guess laid on the datum, or as it is and turned over on the marked points where these are enough."""
    marks = network.marks
    if not marks:
        yield laid_on_datum(network, guess)
        return
    at = [network.place_of[m.point] for m in marks]
    if len(set(at)) < network.dim:
        yield laid_on_datum(network, guess)
        return
    expected = np.array([m.at_mm for m in marks])
    for shape in (guess, mirrored(guess)):
        middle, goal = shape[at].mean(axis=0), expected.mean(axis=0)
        u, _, v = np.linalg.svd((shape[at] - middle).T @ (expected - goal))
        turned_over = np.eye(network.dim)
        turned_over[-1, -1] = np.sign(np.linalg.det(u @ v)) or 1.0
        yield (shape - middle) @ u @ turned_over @ v + goal


def _scaled(network: Network) -> Array:
    """Classical scaling of the distances through the network."""
    count = len(network.points)
    apart = np.full((count, count), np.inf)
    np.fill_diagonal(apart, 0.0)
    known = {m.point: np.array(m.at_mm) for m in network.marks}
    for one, here in known.items():
        for other, there in known.items():
            a, b = network.place_of[one], network.place_of[other]
            apart[a, b] = float(np.linalg.norm(here - there))
    for tie in network.ties:
        a, b = network.place_of[tie.a], network.place_of[tie.b]
        apart[a, b] = apart[b, a] = tie.value_mm
    for k in range(count):
        apart = np.minimum(apart, apart[:, k, None] + apart[k])
    finite = apart[np.isfinite(apart)]
    apart = np.where(np.isfinite(apart), apart, float(finite.max(initial=1.0)))
    middle = np.eye(count) - 1.0 / count
    values, ways = np.linalg.eigh(-0.5 * middle @ apart**2 @ middle)
    top = np.argsort(values)[::-1][: network.dim]
    places = ways[:, top] * np.sqrt(np.maximum(values[top], 0.0))
    if places.shape[1] < network.dim:
        places = np.pad(places, ((0, 0), (0, network.dim - places.shape[1])))
    # a point on the line of its neighbours has no side to go to: everything is moved a hair
    shake = np.random.default_rng(_SEED).normal(0, 1e-3 * (float(np.abs(places).max()) + 1.0), places.shape)
    return np.asarray(places + shake, dtype=float)
