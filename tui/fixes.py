"""
Where each finding is fixed: its code and place become the place of the screens to open.

A *fix* is a kind of place (the editor of a field, a dimension, a question; taking a profile; a connection, how it is
recorded, a reading on it; signing) and what to select there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ledger.domain.finding import READER_CODES, Finding
from ledger.words.clean_copies import ASKED, FIXED

_KINDS: dict[str, tuple[str, ...]] = {
    "field": (
        "material_missing",
        "thickness_missing",
        "process_missing",
        "quantity_missing",
        "twin_missing",
        "not_told_apart",
    ),
    "no connection": ("no_connection",),
    "record": (
        "joint_missing",
        "weld_unsaid",
        "root_gap_wide",
        "tabs_not_found",
        "weld_spread",
        "weld_class_missing",
    ),
    "reading": ("reading_overdue", "measured_on_other", "not_measured", "clearance_missed", "not_proven"),
    "dimension": (
        "off_drawing",
        "hole_lost",
        "frozen_changed",
        "frozen_released",
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
        "off_bent",
        "leg_lost",
    ),
    "mend": (*FIXED, *ASKED),
    "operation": ("thread_asked", "too_wide_to_tap"),
    "profile": (
        "profile_missing",
        "profile_changed",
        "nothing_known",
        "label_lost",
        "words_differ",
        "not_mirrored",
        "hole_under_kerf",
        "hole_small",
        "web_thin",
        "bend_not_straight",
        "hole_on_bend",
        "opening_on_bend",
        "hole_near_bend",
        "flange_short",
        "relief_missing",
        "relief_small",
        *(code for code in READER_CODES if code not in (*FIXED, *ASKED)),
    ),
    "tried": ("template_misfit", "template_not_tried"),
    "question": ("question_open",),
    "distance": ("distance_overdue",),
    "point": ("point_overdue",),
    "group": ("group_unknown", "group_incomplete", "no_holes"),
    "bend": ("bend_unsaid", "bend_lost", "bend_sharp", "bend_table_odd", "bend_assumed"),
    "connection": (
        "offset",
        "too_small",
        "no_common_pattern",
        "unmatched",
        "left_over",
        "other_position",
        "tight_worst_case",
        "odds_too_low",
        "odds",
        "fits",
        "assembled_wrong",
        "bend_between",
        "seat_overhangs",
        "seats_meet",
        "seat_on_neighbor",
        "no_metal_to_tap",
        "neighbors_overlap",
        "root_gap_held",
        "witnessed",
        "gap_small",
        "gap_large",
        "gap_in_play",
        "plates_overlap",
        "sticks_out",
        "interface_changed",
        "edge_near",
        "holes_near",
        "root_gap_off",
        "root_gap_unsure",
        "tab_unmatched",
        "tab_misfit",
        "tab_tight",
        "tab_loose",
        "tab_short",
        "tab_proud",
        "holes_near_across",
        "edge_far",
        "holes_far",
        "bolt_short",
        "bolt_long",
        "bolt_odd_length",
        "bolt_required",
        "thread_short",
        "no_socket_room",
        "part_near_bolt",
        "wall_near_bolt",
        "wrench_tight",
        "bolt_hits",
        "socket_blocked",
        "bolt_stands_out",
        "falls_through",
        "hole_left_open",
        "neighbors_unknown",
        "not_together",
        "tight_together",
        "odds_together",
        "fits_together",
        "position_differs",
        "turned_over_differs",
    ),
    "together": ("partner_open",),
    "sign": ("role_missing", "unacknowledged"),
    "look": (
        "lock_unsigned",
        "not_run",
        "check_failed",
        "no_checks",
        "network_impossible",
        "network_free",
        "network_mirrored",
        "reading_off",
        "reading_doubtful",
        "unchecked_readings",
        "ring_open",
        "ring_tight",
        "ring_odds",
        "ring_closes",
        "sides_differ",
        "faces_apart",
        "parts_overlap",
        "no_order",
    ),
}
KIND_OF: Mapping[str, str] = MappingProxyType(
    {code: kind for kind, codes in _KINDS.items() for code in codes}
)
_FIELD_OF = {"twin_missing": "opposite_of"}
_IN_A_CONNECTION = ("record", "reading", "group")


@dataclass(frozen=True, slots=True)
class Fix:
    """The kind of place to open, what it is about, and what to select in it."""

    kind: str
    name: str = ""
    place: str = ""


def fix_for(finding: Finding, connections: Iterable[str]) -> Fix:
    """The place where a finding is fixed; a finding that lies in a connection is looked at there."""
    kind = KIND_OF.get(finding.code, "look")
    connection = connection_in(finding.where, connections)
    if kind == "field":
        return Fix(kind, _FIELD_OF.get(finding.code, finding.where))
    if connection and kind in _IN_A_CONNECTION:
        return Fix(kind, connection, finding.where.removeprefix(connection).removeprefix("/"))
    if connection and kind not in ("sign", "together"):
        return Fix("connection", connection, finding.where)
    if kind in ("connection", "look", "record", "reading"):
        return Fix("look", finding.where)
    return Fix(kind, finding.where, finding.where)


def connection_in(where: str, connections: Iterable[str]) -> str:
    """The connection that a place lies in: CONNECTION or CONNECTION/…; the longest name where several begin so."""
    return max((m for m in connections if where == m or where.startswith(f"{m}/")), key=len, default="")
