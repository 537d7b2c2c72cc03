"""What the reader makes of one file, as faces show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ledger.domain.canonical import sha256
from ledger.domain.shape import Contour, Profile


@dataclass(frozen=True, slots=True)
class Look:
    """What the reader makes of one file; `roles` is what each layer is for, as stated or guessed."""

    file: str
    sha256: str
    profile: Profile
    roles: tuple[tuple[str, str], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; lengths in mm."""
        p = self.profile
        return {
            "file": self.file,
            "sha256": self.sha256,
            "usable": p.usable,
            "unit": {"header": p.unit_declared, "used": p.unit_used, "sure": p.unit_sure},
            "size_mm": [round(n, 6) for n in p.size_mm] if p.size_mm else None,
            "layers": dict(self.roles),
            "outlines": len(p.outlines),
            "openings": [opening_to_json(c) for c in p.openings],
            "area_mm2": round(p.area_mm2, 6) if p.outline else None,
            "cut_length_mm": round(p.cut_length_mm, 6),
            "holes": [
                {
                    "label": h.label,
                    "x_mm": h.centre[0],
                    "y_mm": h.centre[1],
                    "diameter_mm": h.diameter_mm,
                    "core_mm": [list(end) for end in h.core] if h.is_slot else None,
                    "made_of": h.made_of,
                    "departure_mm": h.departure_mm,
                    "also_mm": list(h.also_mm),
                }
                for h in p.holes
            ],
            "findings": [f.to_json() for f in p.findings],
        }


def opening_to_json(opening: Contour) -> dict[str, float]:
    """An opening that is no hole: the middle of its box and its overall size, mm."""
    low_x, low_y, high_x, high_y = opening.box
    return {
        "x_mm": round((low_x + high_x) / 2, 6),
        "y_mm": round((low_y + high_y) / 2, 6),
        "width_mm": round(high_x - low_x, 6),
        "height_mm": round(high_y - low_y, 6),
    }


def look(file: str, data: bytes, *, unit: str | None = None, roles: Mapping[str, str] | None = None) -> Look:
    """What the reader makes of a file's bytes, with what layers are for as stated. Raises Unreadable, BadInput."""
    from ledger.profile.layers import roles_of
    from ledger.profile.read import read_profile

    profile = read_profile(data, unit=unit, roles=roles)
    return Look(file, sha256(data), profile, roles_of(profile.layers, roles))
