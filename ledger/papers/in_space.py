"""
Solids seen from the front, the right and above, as a picture: what is behind is hidden, edges are drawn.

A PNG is worked out pixel by pixel, the nearest face counts; an SVG paints faces from the farthest to the nearest one,
which can show a face in front that is only near by its middle. An edge is where two faces of one solid meet at more
than 20 degrees.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any, Final

import numpy as np

from ledger.assembly.solids import Mesh
from ledger.domain.errors import BadInput, visible
from ledger.fit.joint import Real
from ledger.papers.gltf import glb

SIDE_PIXELS: Final = 1600
KINDS: Final = ("png", "svg", "glb")
_RIM: Final = 1e-9
_MARGIN: Final = 0.04
_SHARP: Final = np.cos(np.radians(20.0))
_LIGHT: Final = np.array([-0.35, -0.55, 0.76])
_INK: Final = (40, 44, 52)
_TINTS: Final = ((158, 171, 184), (204, 158, 89), (115, 158, 133), (158, 128, 168), (184, 120, 110))


def view(meshes: Sequence[Mesh], kind: str) -> bytes:
    """The solids as a file of a kind. Raises BadInput for another kind, and where there is none."""
    if kind not in KINDS:
        raise BadInput(
            f"read {visible(kind)!r} as the kind of picture; expected a name that ends .png, .svg or .glb"
        )
    if not meshes:
        raise BadInput("no part of the assembly has a body: enter outlines and thicknesses first")
    if kind == "glb":
        return glb(meshes)
    return _svg(meshes) if kind == "svg" else _png(meshes)


def _seen() -> Real:
    """Rows: to the right, up and towards the eye, of a view from the front right above (isometric)."""
    eye = np.array([1.0, -1.0, 0.8])
    eye /= np.linalg.norm(eye)
    right = np.cross([0.0, 0.0, 1.0], eye)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])


class _View:
    """Every face in pixels (x right, y down, z towards the eye), with its shade and its solid."""

    def __init__(self, meshes: Sequence[Mesh]) -> None:
        turn = _seen()
        points = [m.corners @ turn.T for m in meshes]
        low, high = (f([f(p, axis=0) for p in points], axis=0) for f in (np.min, np.max))
        scale = SIDE_PIXELS * (1 - 2 * _MARGIN) / max(high[0] - low[0], high[1] - low[1])
        pad = SIDE_PIXELS * _MARGIN
        self.wide, self.high = (int(np.ceil((high[k] - low[k]) * scale + 2 * pad)) for k in (0, 1))
        self.points = [
            np.column_stack(
                [(p[:, 0] - low[0]) * scale + pad, (high[1] - p[:, 1]) * scale + pad, p[:, 2] * scale]
            )
            for p in points
        ]
        self.meshes = meshes

    def faces(self) -> Iterator[tuple[Real, tuple[int, int, int]]]:
        """The corners (3, 3) and the color of every face that looks towards the eye."""
        for k, (mesh, points) in enumerate(zip(self.meshes, self.points, strict=True)):
            for corners, across in zip(points[mesh.faces], _normals(mesh.corners, mesh.faces), strict=True):
                if across @ _seen()[2] > 0:
                    shade = 0.55 + 0.45 * max(0.0, float(across @ _LIGHT))
                    red, green, blue = _TINTS[k % len(_TINTS)]
                    yield corners, (int(red * shade), int(green * shade), int(blue * shade))

    def edges(self) -> Iterator[Real]:
        """Both ends (2, 3) of every edge that a face towards the eye has."""
        for mesh, points in zip(self.meshes, self.points, strict=True):
            across = _normals(mesh.corners, mesh.faces)
            met: dict[tuple[int, int], list[int]] = {}
            for n, (a, b, c) in enumerate(mesh.faces.tolist()):
                for one, other in ((a, b), (b, c), (c, a)):
                    met.setdefault((min(one, other), max(one, other)), []).append(n)
            for (a, b), of in met.items():
                sharp = len(of) != 2 or across[of[0]] @ across[of[1]] < _SHARP  # noqa: PLR2004
                if sharp and any(across[n] @ _seen()[2] > 0 for n in of):
                    yield points[[a, b]]


def _png(meshes: Sequence[Mesh]) -> bytes:
    from PIL import Image

    made = _View(meshes)
    near = np.full((made.high, made.wide), -np.inf)
    picture = np.full((made.high, made.wide, 3), 255, dtype=np.uint8)
    for corners, color in made.faces():
        _fill(near, picture, corners, color)
    for ends in made.edges():
        _stroke(near, picture, ends)
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "PNG")
    return out.getvalue()


def _fill(near: Real, picture: Any, corners: Real, color: tuple[int, int, int]) -> None:
    """One face, where nothing nearer was painted."""
    (x0, y0), (x1, y1) = (f(corners[:, :2], axis=0) for f in (np.min, np.max))
    left, top = max(int(x0), 0), max(int(y0), 0)
    right, bottom = min(int(x1) + 2, near.shape[1]), min(int(y1) + 2, near.shape[0])
    xs, ys = np.meshgrid(np.arange(left, right) + 0.5, np.arange(top, bottom) + 0.5)
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = corners
    area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    if abs(area) < 1e-9 or not xs.size:  # noqa: PLR2004 - seen from its side
        return
    u = ((xs - ax) * (cy - ay) - (ys - ay) * (cx - ax)) / area
    v = ((bx - ax) * (ys - ay) - (by - ay) * (xs - ax)) / area
    depth = az + u * (bz - az) + v * (cz - az)
    there = near[top:bottom, left:right]
    shown = (np.minimum(u, v) >= -_RIM) & (u + v <= 1 + _RIM) & (depth > there)
    there[shown] = depth[shown]
    picture[top:bottom, left:right][shown] = color


def _stroke(near: Real, picture: Any, ends: Real) -> None:
    """One edge, two pixels wide, where nothing nearer was painted."""
    count = int(np.ceil(np.abs(ends[1] - ends[0])[:2].max())) + 1
    way = ends[0] + np.linspace(0, 1, count)[:, None] * (ends[1] - ends[0])
    for dx, dy in ((0, 0), (1, 0), (0, 1)):
        x, y = (np.clip(way[:, k].astype(int) + d, 0, near.shape[1 - k] - 1) for k, d in ((0, dx), (1, dy)))
        shown = way[:, 2] >= near[y, x] - 2.5
        picture[y[shown], x[shown]] = _INK


def _svg(meshes: Sequence[Mesh]) -> bytes:
    made = _View(meshes)
    faces = sorted(made.faces(), key=lambda f: float(f[0][:, 2].mean()))
    rows = [
        f'<path d="M{_at(a)}L{_at(b)}L{_at(c)}Z" fill="rgb{color}" stroke="rgb{color}"/>'
        for (a, b, c), color in faces
    ]
    names = ", ".join(m.name for m in meshes)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {made.wide} {made.high}" stroke-width="0.6">'
    )
    return "\n".join([head, f"<title>{escape(names)}</title>", *rows, "</svg>", ""]).encode()


def _at(p: Real) -> str:
    return f"{p[0]:.1f} {p[1]:.1f}"


def _normals(corners: Real, faces: Any) -> Real:
    a, b, c = (corners[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    return np.asarray(across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-300))
