"""The program build: what a verdict of an earlier session depends on besides the job."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Final

_GEOMETRY: Final = ("numpy", "scipy", "shapely", "ezdxf")
_PROGRAM: Final = Path(__file__).parents[
    1
]  # every room: rules, standards tables and fit decide, not this room alone


@cache
def build() -> str:
    """A digest of the program's files and of the versions of the libraries that decide geometry."""
    seal = hashlib.sha256()
    for path in sorted(p for p in _PROGRAM.rglob("*") if p.suffix in (".py", ".toml", ".csv")):
        seal.update(str(path.relative_to(_PROGRAM)).encode() + b"\0" + path.read_bytes() + b"\0")
    for name in _GEOMETRY:
        seal.update(f"{name} {metadata.version(name)}\0".encode())
    return seal.hexdigest()
