"""
Where each finding is cured: its code and place become the place of the screens to open.

A *cure* is a kind of place (the editor of a field, a dimension, a question; taking a profile; a mate, how it is
declared, a reading on it; signing) and what to select there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ledger.domain.finding import READER_CODES, Finding
from ledger.mending import ASKED, CURED

_KINDS: dict[str, tuple[str, ...]] = {
    "field": (
        "material_missing",
        "thickness_missing",
        "process_missing",
        "quantity_missing",
        "twin_missing",
    ),
    "no mate": ("no_mate",),
    "declaration": ("joint_missing",),
    "reading": ("reading_overdue", "measured_on_other", "not_measured", "clearance_missed", "not_proven"),
    "dimension": (
        "off_drawing",
        "hole_lost",
        "held_changed",
        "assumed",
        "size_not_held",
        "edge_not_square",
        "not_calculated",
        "source_open",
        "instrument_overdue",
        "dimension_not_proven",
        "points_moved",
        "points_lost",
        "points_not_proven",
    ),
    "mend": (*CURED, *ASKED),
    "finish": ("thread_asked",),
    "profile": (
        "profile_missing",
        "profile_changed",
        "nothing_known",
        "label_lost",
        "not_mirrored",
        "hole_under_kerf",
        "hole_small",
        "web_thin",
        *(code for code in READER_CODES if code not in (*CURED, *ASKED)),
    ),
    "question": ("question_open",),
    "distance": ("distance_overdue",),
    "point": ("point_overdue",),
    "group": ("group_unknown", "group_incomplete", "no_holes"),
    "mate": (
        "offset",
        "too_small",
        "no_common_pattern",
        "unmatched",
        "tight_worst_case",
        "fits",
        "assembled_wrong",
        "seat_overhangs",
        "seats_meet",
        "gap_small",
        "gap_large",
        "overlap",
        "sticks_out",
        "partner_open",
        "face_changed",
        "edge_near",
        "holes_near",
    ),
    "sign": ("role_missing", "unacknowledged"),
    "look": (
        "not_run",
        "check_failed",
        "no_checks",
        "network_impossible",
        "network_free",
        "network_mirrored",
        "reading_off",
        "reading_doubtful",
        "unchecked_readings",
    ),
}
KIND_OF: Mapping[str, str] = MappingProxyType(
    {code: kind for kind, codes in _KINDS.items() for code in codes}
)
_FIELD_OF = {"twin_missing": "opposite_of"}
_IN_A_MATE = ("declaration", "reading", "group")


@dataclass(frozen=True, slots=True)
class Cure:
    """The kind of place to open, what it is about, and what to select in it."""

    kind: str
    name: str = ""
    place: str = ""


def cure_for(finding: Finding, mates: Iterable[str]) -> Cure:
    """The place where a finding is cured; a finding that lies in a mate is looked at there."""
    kind = KIND_OF.get(finding.code, "look")
    mate = mate_in(finding.where, mates)
    if kind == "field":
        return Cure(kind, _FIELD_OF.get(finding.code, finding.where))
    if mate and kind in _IN_A_MATE:
        return Cure(kind, mate, finding.where.removeprefix(mate).removeprefix("/"))
    if mate and kind != "sign":
        return Cure("mate", mate, finding.where)
    if kind in ("mate", "look", "declaration", "reading"):
        return Cure("look", finding.where)
    return Cure(kind, finding.where, finding.where)


def mate_in(where: str, mates: Iterable[str]) -> str:
    """The mate that a place lies in: MATE or MATE/…; the longest name where several begin so."""
    return max((m for m in mates if where == m or where.startswith(f"{m}/")), key=len, default="")
