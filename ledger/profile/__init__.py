"""
DXF bytes to shapes, shapes to DXF bytes and pictures: the one room that knows the CAD library.

    read      bytes in, a profile out; its canonical bytes and its digest
    write     a clean DXF out of shapes
    labels    hole labels carried from one drawing to the next
    picture   profiles as SVG, one alone or one laid on another

Names are imported when they are asked for, so that naming this room costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_ROOMS = {
    "read_profile": "read",
    "geometry_bytes": "read",
    "geometry_digest": "read",
    "READER_VERSION": "read",
    "write_dxf": "write",
    "write_profile": "write",
    "carry_labels": "labels",
    "profile_svg": "picture",
    "overlay_svg": "picture",
}


def __getattr__(name: str) -> Any:
    if name not in _ROOMS:
        raise AttributeError(name)
    return getattr(import_module(f"ledger.profile.{_ROOMS[name]}"), name)
