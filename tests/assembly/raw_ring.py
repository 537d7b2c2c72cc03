"""
A ring of plates measured without the rooms that are tested: holes, poses and bolts as bare numbers.

A *row* is a bolt: its two plates, the ends of its hole in each, and how far the two holes may be apart. Only what a
ring is made of is read from the case (holes, sizes, which meets which); placing, measuring and both solvers are here.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
from scipy.optimize import minimize
from shapely import LineString, Point


def rows_of(case):
    """Every bolt of a ring of pairs, as drawn: what its two holes leave it, none where it is screwed into one."""
    found = []
    for member in case.members:
        (fastening,) = member.connected.fastenings
        one, other = ({h.label: h for h in ply.holes} for ply in fastening.plies)
        for a, b in member.connected.ways[0].bolts:
            room = (one[a].diameter_mm - fastening.fastener_mm) / 2
            if fastening.joint == "through":
                room += (other[b].diameter_mm - fastening.fastener_mm) / 2
            found.append((*member.connected.parts, one[a].core, other[b].core, room))
    return found


def placed(pose, p):
    """A place of a drawing: turned over first (y to -y), then turned, then shifted."""
    z = complex(p[0], -p[1] if pose.turned_over else p[1])
    return z * np.exp(1j * math.radians(pose.angle_deg)) + complex(pose.x_mm, pose.y_mm)


def margin_at(rows, poses):
    """The least that any bolt has left with the plates at these poses, mm."""
    return min(
        room - _line(poses[one], a).distance(_line(poses[other], b)) for one, other, a, b, room in rows
    )


def _line(pose, core):
    ends = [placed(pose, p) for p in core]
    return (LineString if len(ends) > 1 else Point)([(z.real, z.imag) for z in ends])


def needed_to_open(rows, frames):
    """
    A shift of the last connection's holes on one plate that no ring can take up, by the triangle inequality alone.

    In the frames in which the ring was drawn the holes of a bolt are e apart. With its two plates elsewhere they are at
    most `room` apart: the plates have moved against each other by room + e at the most there, and two bolts d apart
    bound the turn t of one plate against the other by 2 sin(t / 2) d <= both together. Around the ring from plate
    0, plate k has turned by no more than the sum so far, so the way from its one connection to the other has moved by
    no more than 2 sin(turn / 2) times its length.
    """
    by = {}
    for one, other, (a, *_), (b, *_), room in rows:
        p, q = placed(frames[one], a), placed(frames[other], b)
        by.setdefault((one, other), []).append((p, abs(p - q) + room))
    needed, turned, last = 0.0, 0.0, None
    for bolts in by.values():
        here, slack = bolts[0]
        if last is not None:
            needed += 2 * math.sin(min(turned, math.pi) / 2) * abs(here - last)
        needed += slack
        turned += min(_turn(s + r, abs(p - q)) for (p, s), (q, r) in combinations(bolts, 2))
        last = here
    return needed


def _turn(slack, apart):
    return 2 * math.asin(slack / 2 / apart) if slack < 2 * apart else math.pi


def found_by_descent(rows, frames, starts, random):
    """The greatest least margin that sequential quadratic programming finds from some starts: a lower bound of it."""
    one, other, a, b, room = _laid_out(rows, frames)
    count = len(frames)
    scale = float(max(np.abs(a).max(), np.abs(b).max()))

    def gap(x):
        turns = np.exp(1j * np.concatenate([[0], x[1:count]]))
        moves = np.concatenate([[0], x[count : 2 * count - 1] + 1j * x[2 * count - 1 :]]) * scale
        return turns[one] * a + moves[one] - turns[other] * b - moves[other]

    def left(x):
        g = gap(x)
        return (room * room - np.abs(g) ** 2) / scale - x[0] * room.max()

    best = -math.inf
    for k in range(starts):
        x = np.zeros(3 * count - 2)
        if k:
            x[1:] = random.normal(0, 0.03, 3 * count - 3)
        x[0] = left(x).min() / room.max()
        found = minimize(
            lambda x: -x[0], x, method="SLSQP", constraints={"type": "ineq", "fun": left},
            options={"ftol": 1e-13, "maxiter": 200},
        ).x  # fmt: skip
        best = max(best, float((room - np.abs(gap(found))).min()))
    return best


def most_by_cones(rows, frames):
    """
    What no poses can exceed, as long as it is above zero: an upper bound of the margin by second order cones.

    Every turn is let into the convex hull of the arc that it can be on (a disc less what is beyond a chord), which only
    adds poses; the arcs are from two bolts each, and added up around the ring either way. `-inf` where two bolts of
    a connection cannot both go in.
    """
    import clarabel
    from scipy import sparse

    one, other, a, b, room = _laid_out(rows, frames)
    count, free = len(frames), len(frames) - 1
    arcs = _arcs(one, other, a, b, room, count)
    if arcs is None:
        return -math.inf
    width = 1 + 4 * free  # margin; of every plate but the first: turn (re, im), shift (re, im)
    matrix, limit, cones = [], [], []

    def add(cone, rows_, limits):
        matrix.extend(rows_)
        limit.extend(limits)
        cones.append(cone)

    def of(body, hole, sign, rows_, limits):
        if body == 0:
            limits[1] += sign * hole.real
            limits[2] += sign * hole.imag
            return
        k = 1 + 4 * (body - 1)
        rows_[1][k : k + 4] -= sign * np.array([hole.real, -hole.imag, 1, 0])
        rows_[2][k : k + 4] -= sign * np.array([hole.imag, hole.real, 0, 1])

    for p, q, x, y, r in zip(one, other, a, b, room, strict=True):
        cone_rows, limits = np.zeros((3, width)), np.array([r, 0.0, 0.0])
        cone_rows[0, 0] = 1.0
        of(p, x, 1, cone_rows, limits)
        of(q, y, -1, cone_rows, limits)
        add(clarabel.SecondOrderConeT(3), cone_rows, limits)
    for body in range(1, count):
        k = 1 + 4 * (body - 1)
        disc = np.zeros((3, width))
        disc[1, k] = disc[2, k + 1] = -1
        add(clarabel.SecondOrderConeT(3), disc, [1.0, 0.0, 0.0])
        middle, half = arcs[body]
        if half < math.pi:
            chord = np.zeros((1, width))
            chord[0, k : k + 2] = -math.cos(middle), -math.sin(middle)
            add(clarabel.NonnegativeConeT(1), chord, [-math.cos(half)])
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    cost = np.zeros(width)
    cost[0] = -1
    found = clarabel.DefaultSolver(
        sparse.csc_matrix((width, width)), cost, sparse.csc_matrix(np.array(matrix)), np.array(limit), cones,
        settings,
    ).solve()  # fmt: skip
    if str(found.status) not in ("Solved", "AlmostSolved"):
        raise AssertionError(f"the cone solver says {found.status}")
    return -float(found.obj_val_dual)


def _plates(rows):
    return sorted({name for row in rows for name in row[:2]})


def _laid_out(rows, frames):
    """The holes of every bolt where its plates were drawn, so that no turn and no shift is the drawn ring."""
    names = _plates(rows)
    one, other = (np.array([names.index(row[k]) for row in rows]) for k in (0, 1))
    a, b = (np.array([placed(frames[row[k]], row[2 + k][0]) for row in rows]) for k in (0, 1))
    return one, other, a, b, np.array([row[4] for row in rows])


def _arcs(one, other, a, b, room, count):  # noqa: PLR0917 - a table of bolts by columns
    """Middle and half width of every plate's turn against the first; None where a pair cannot be."""
    steps = {}
    for i, j in combinations(range(len(one)), 2):
        if (one[i], other[i]) != (one[j], other[j]):
            continue
        v, w, s = a[i] - a[j], b[i] - b[j], room[i] + room[j]
        if abs(abs(v) - abs(w)) > s:
            return None
        if s >= abs(v) + abs(w):
            continue
        half = math.acos(min(1.0, max(-1.0, (abs(v) ** 2 + abs(w) ** 2 - s * s) / (2 * abs(v) * abs(w)))))
        arc = (float(np.angle(v / w)), half + 1e-9)  # of the second's turn against the first's
        key = int(one[i]), int(other[i])
        steps[key] = min(steps.get(key, (0.0, math.pi)), arc, key=lambda x: x[1])
    arcs = {}
    for forth in (True, False):
        middle, half = 0.0, 0.0
        for body in range(1, count) if forth else range(count - 1, 0, -1):
            key = (body - 1, body) if forth else (body, (body + 1) % count)
            turn, wide = steps.get(key, (0.0, math.pi))
            middle, half = middle + (turn if forth else -turn), min(math.pi, half + wide)
            arcs[body] = min(arcs.get(body, (0.0, math.inf)), (middle, half), key=lambda x: x[1])
    return arcs
