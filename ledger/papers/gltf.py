"""
Solids as one binary glTF file, for anybody's viewer (Khronos glTF 2.0, sections 3.6, 3.7 and 4.4).

Each solid is a node of its own with its name. Lengths are metres there, and y is up: a node above all of them turns the
mm of the parts, whose z is up. Every face has its own three corners, so that edges stay sharp.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from ledger.assembly.solids import Mesh

_MAGIC: Final = 0x46546C67
_JSON: Final = 0x4E4F534A
_BIN: Final = 0x004E4942
_FLOAT: Final = 5126
_ARRAY: Final = 34962
_TRIANGLES: Final = 4
_TINTS: Final = (
    (0.62, 0.67, 0.72), (0.80, 0.62, 0.35), (0.45, 0.62, 0.52), (0.62, 0.50, 0.66), (0.72, 0.47, 0.43),
)  # fmt: skip


def glb(meshes: Sequence[Mesh]) -> bytes:
    """The solids as bytes of a .glb file."""
    data, views, accessors, shapes, nodes = bytearray(), [], [], [], []
    for k, mesh in enumerate(meshes):
        corners = mesh.corners[mesh.faces].reshape(-1, 3).astype("<f4")
        across = np.repeat(_normals(mesh), 3, axis=0).astype("<f4")
        for array in (corners, across):
            views.append({"buffer": 0, "byteOffset": len(data), "byteLength": array.nbytes, "target": _ARRAY})
            data += array.tobytes()
        kind = {"componentType": _FLOAT, "count": len(corners), "type": "VEC3"}
        low, high = ([float(x) for x in f(corners, axis=0)] for f in (np.min, np.max))
        accessors += [
            {**kind, "bufferView": 2 * k, "min": low, "max": high},
            {**kind, "bufferView": 2 * k + 1},
        ]
        attributes = {"POSITION": 2 * k, "NORMAL": 2 * k + 1}
        shapes.append(
            {"name": mesh.name, "primitives": [
                {"attributes": attributes, "material": k % len(_TINTS), "mode": _TRIANGLES}
            ]}
        )  # fmt: skip
        nodes.append({"name": mesh.name, "mesh": k})
    top = {"name": "assembly", "children": list(range(len(nodes))), "scale": [0.001] * 3,
           "rotation": [-(0.5**0.5), 0.0, 0.0, 0.5**0.5]}  # fmt: skip
    said: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": "fitup"}, "scene": 0, "scenes": [{"nodes": [len(nodes)]}],
        "nodes": [*nodes, top], "meshes": shapes, "accessors": accessors, "bufferViews": views,
        "buffers": [{"byteLength": len(data)}], "materials": [_material(tint) for tint in _TINTS],
    }  # fmt: skip
    return _packed(json.dumps(said, separators=(",", ":")).encode(), bytes(data))


def _material(tint: Sequence[float]) -> dict[str, Any]:
    return {
        "pbrMetallicRoughness": {
            "baseColorFactor": [*tint, 1.0],
            "metallicFactor": 0.3,
            "roughnessFactor": 0.6,
        }
    }


def _packed(text: bytes, data: bytes) -> bytes:
    """Header, chunk of text padded with spaces, chunk of data padded with zeros: each to four bytes."""
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<II", len(text), _JSON) + text + struct.pack("<II", len(data), _BIN) + data
    return struct.pack("<III", _MAGIC, 2, 12 + len(chunks)) + chunks


def _normals(mesh: Mesh) -> Any:
    a, b, c = (mesh.corners[mesh.faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    return across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-300)
