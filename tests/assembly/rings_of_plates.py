"""Plates bolted in a ring, at random: each a member with the pose in which its pair of plates was drawn."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np

from ledger.assembly.arrangement import Member, arranged
from ledger.assembly.closure import AssemblyCase
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.shared_bolts import Assembled, Connected
from ledger.fit.stack_case import StackFastening

BOLT_MM = 12.0


def ring(
    seed,
    *,
    off_mm=0.0,
    plates=None,
    holes=None,
    noise_mm=0.1,
    room_mm=1.5,
    slots=False,
    joints=("through",),
    square=False,
):
    """
    A ring of 3 to 8 plates with 2 to 4 holes a connection, each hole out by `noise_mm` (one sigma) on x and on y.

    With `square` every connection has four holes in a square. The last connection's holes are out by `off_mm` as a
    group, on its first plate, in a direction of the seed.
    """
    random, per, corners, frames = _begun(seed, plates, holes)
    count = len(frames)
    members, away = [], cmath.rect(off_mm, random.uniform(0, 2 * math.pi))
    for k in range(count):
        first, second = k, (k + 1) % count
        spots = [corners[k] + complex(*random.uniform(-60, 60, 2)) for _ in range(per)]
        if square:
            spots = [corners[k] + 40 * 1j**n for n in range(4)]
        shift = away if k == count - 1 else 0j
        joint = joints[int(random.integers(len(joints)))]
        sizes = (BOLT_MM + room_mm, BOLT_MM + room_mm if joint == "through" else 10.2)
        a = [_hole(frames[first], z + _error(random, noise_mm) + shift, sizes[0]) for z in spots]
        b = [_hole(frames[second], z + _error(random, noise_mm), sizes[1]) for z in spots]
        if slots and random.integers(2):
            a[0] = _slot(frames[first], a[0], cmath.rect(4.0, random.uniform(0, math.pi)))
        members.append(_member(k, (first, second), frames, (_named(a, k), _named(b, k)), joint))
    return AssemblyCase(tuple(members), frozenset(f"P{k}" for k in range(count)))


def frames_of(seed, *, plates=None, holes=None):
    """Where every plate of the ring of this seed was drawn, by its number: no fit is asked."""
    return {f"P{k}": frame for k, frame in enumerate(_begun(seed, plates, holes)[-1])}


def _begun(seed, plates, holes):
    random = np.random.default_rng(seed)
    count = plates or int(random.integers(3, 9))
    per = holes or int(random.integers(2, 5))
    wide = 120 * count / math.pi
    corners = [
        wide * cmath.exp(2j * math.pi * (k + 0.5) / count) * random.uniform(0.8, 1.2) for k in range(count)
    ]
    frames = [
        Pose(
            math.degrees(random.uniform(-math.pi, math.pi)),
            *random.uniform(-300, 300, 2),
            bool(random.integers(2)),
        )
        for _ in range(count)
    ]
    return random, per, corners, frames


def _error(random, sigma):
    return complex(*random.normal(0, sigma, 2))


def _hole(frame, z, diameter):
    return Hole("", (frame.bring((z.real, z.imag)),), diameter)


def _slot(frame, hole, half):
    """The hole lengthened both ways."""
    x, y = frame.place(hole.centre)
    return replace(
        hole,
        core=(frame.bring((x - half.real, y - half.imag)), frame.bring((x + half.real, y + half.imag))),
    )


def _named(holes, k):
    return tuple(replace(hole, label=f"C{k}H{n}") for n, hole in enumerate(holes))


def _member(k, ends, frames, sides, joint):
    a, b = sides
    plies = tuple(Ply(holes, declared=True, position_mm=0.2, shrink_mm=0.2) for holes in (a, b))
    fastening = StackFastening(plies, BOLT_MM, BOLT_MM, joint)
    pose = frames[ends[1]].back.after(frames[ends[0]])
    way = Assembled((pose, Pose()), tuple((x.label, y.label) for x, y in zip(a, b, strict=True)))
    connected = Connected(tuple(f"P{n}" for n in ends), (fastening,), (way,), whole=True)
    return Member(f"C{k}", connected, math.inf, math.inf)


def drawn_of(case):
    """The arrangement in which every plate was drawn."""
    return arranged(case.members, [m.connected.ways[0] for m in case.members])
