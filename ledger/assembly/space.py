"""
Rigid motions in space, and how a flat drawing becomes a bent part. All lengths in mm.

A flange has the coordinates of its drawing: x and y in the drawn face, z out of that face, so that the sheet is between
z = 0 and z = -t. A *frame* lays the coordinates of one thing in those of another. A bend takes its allowance out of the
flat, half on either side of the bend line; what lies beyond is turned about it, *up* towards the drawn face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import reduce

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Point
from ledger.fit.joint import Real

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class Frame:
    """A turn (three by three) and a shift: place(p) = turn p + shift."""

    turn: Real
    shift: Real

    def place(self, p: Real) -> Real:
        """A place of the one in the coordinates of the other."""
        return np.asarray(self.turn @ p + self.shift)

    def after(self, first: Frame) -> Frame:
        """The frame of doing `first` and then this one."""
        return Frame(self.turn @ first.turn, self.place(first.shift))

    @property
    def back(self) -> Frame:
        """The frame that undoes this one."""
        return Frame(self.turn.T, -self.turn.T @ self.shift)


HERE = Frame(np.eye(3), np.zeros(3))


def in_order(frames: tuple[Frame, ...]) -> Frame:
    """The first of these after the second after the third ..."""
    return reduce(Frame.after, frames, HERE)


def laid(pose: Pose, height_mm: float) -> Frame:
    """A drawing laid in the plane at a height; turned over, its drawn face looks down."""
    c, s = math.cos(math.radians(pose.angle_deg)), math.sin(math.radians(pose.angle_deg))
    sign = -1.0 if pose.turned_over else 1.0
    turn = np.array([[c, -s * sign, 0.0], [s, c * sign, 0.0], [0.0, 0.0, sign]])
    return Frame(turn, np.array([pose.x_mm, pose.y_mm, height_mm]))


def nudged(middle: Point, x_mm: float, y_mm: float, angle: float) -> Frame:
    """A small shift in the plane and a turn, in radians, about a place."""
    about = laid(Pose(math.degrees(angle)), 0.0)
    at = np.array([middle[0], middle[1], 0.0])
    return Frame(about.turn, at - about.turn @ at + np.array([x_mm, y_mm, 0.0]))


@dataclass(frozen=True, slots=True)
class Bend:
    """A bend line from `a` to `b` of a sheet `thick_mm` thick, with its angle in degrees and its inside radius."""

    a: Point
    b: Point
    angle_deg: float
    radius_mm: float
    allowance_mm: float
    thick_mm: float
    up: bool

    def beyond(self, p: Point, off_mm: float = 0.0, off_deg: float = 0.0) -> Frame:
        """
        Lays the flat drawing beyond the bend, on the side where `p` is, in the coordinates before it.

        `off_mm` is how much farther out, and `off_deg` how much farther turned, the flange comes to be.
        """
        along = np.array([self.b[0] - self.a[0], self.b[1] - self.a[1], 0.0])
        along /= np.linalg.norm(along)
        start = np.array([self.a[0], self.a[1], 0.0])
        outward = np.cross(UP, along)
        if outward @ (np.array([p[0], p[1], 0.0]) - start) < 0:
            outward = -outward
        sign = 1.0 if self.up else -1.0
        angle = math.radians(self.angle_deg + off_deg)
        radius = self.radius_mm if self.up else self.radius_mm + self.thick_mm  # of the drawn face
        out = math.cos(angle) * outward + sign * math.sin(angle) * UP
        face = -sign * math.sin(angle) * outward + math.cos(angle) * UP
        half = self.allowance_mm / 2
        begins = (
            start + (radius * math.sin(angle) - half) * outward + sign * radius * (1 - math.cos(angle)) * UP
        )
        turn = np.outer(along, along) + np.outer(out, outward) + np.outer(face, UP)
        return Frame(turn, begins + (off_mm - half) * out - turn @ start)


def crossed(start: Point, end: Point, bends: tuple[Bend, ...]) -> tuple[Bend, ...]:
    """The bends on the straight way from one place of a flat drawing to another, in order."""
    found = []
    dx, dy = end[0] - start[0], end[1] - start[1]
    for bend in bends:
        ex, ey = bend.b[0] - bend.a[0], bend.b[1] - bend.a[1]
        lean = dx * ey - dy * ex
        if lean == 0:
            continue
        wx, wy = bend.a[0] - start[0], bend.a[1] - start[1]
        at, there = (wx * ey - wy * ex) / lean, (wx * dy - wy * dx) / lean
        if 0 < at < 1 and 0 <= there <= 1:
            found.append((at, bend))
    return tuple(bend for _, bend in sorted(found, key=lambda x: x[0]))
