"""
Which finding comes first: a cause before what follows from it.

A drawing that is not read as one part, in a wrong unit, mirrored or cut twice puts every hole of it in doubt; so does a
record that is missing. What is said of holes and connections comes behind these, then what is only left over or off a
dimension, then what was not looked at or waits on others. Of one rank the order is that in which they were found.

A finding *follows* from a stop where that explains it and lies at the same place; it is then told behind it in a line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from ledger.domain.finding import READER_CODES, Finding
from ledger.domain.plural import counted

# From the cause to what follows from it; whoever adds a code adds it here.
_UNITS: Final = ("unit_missing", "unit_contradicted", "unit_differs", "unit_doubtful")
_ORDER: Final[tuple[tuple[str, ...], ...]] = (
    # the judgement itself cannot be relied on
    ("lock_unsigned", "no_checks", "nothing_known"),
    # the drawing: not there, in which unit, what is cut
    ("profile_missing", "profile_changed", *_UNITS, *(c for c in READER_CODES if c not in _UNITS)),
    ("not_mirrored", "twin_missing", "label_lost", "turned_over_differs", "words_differ"),
    # the record: what is missing or cannot be as it is
    (
        "joint_missing", "group_unknown", "group_incomplete", "no_holes", "no_connection", "weld_unsaid", "bend_unsaid",
        "bend_lost", "bend_sharp", "bend_not_straight", "bend_table_odd", "tabs_not_found", "material_missing",
        "thickness_missing", "process_missing", "quantity_missing", "thread_asked", "weld_class_missing",
        "network_impossible", "network_free", "network_mirrored", "reading_off", "position_differs",
        "interface_changed", "sides_differ",
    ),
    # the patterns: how they lie, whether there is one, which hole is wrong
    ("too_small", "too_wide_to_tap", "no_metal_to_tap"),
    ("other_position", "offset", "no_common_pattern", "not_together", "tab_misfit",
     "root_gap_off"),
    # everything of its own
    (
        "tight_worst_case", "odds_too_low", "tight_together", "odds_together", "falls_through", "neighbors_overlap",
        "plates_overlap", "sticks_out", "gap_small", "gap_large", "gap_in_play", "clearance_missed", "bolt_hits",
        "parts_overlap", "socket_blocked", "no_order", "bolt_short", "bolt_long", "bolt_odd_length", "bolt_required",
        "bolt_stands_out", "thread_short", "edge_near",
        "edge_far", "edge_not_square", "holes_near", "holes_near_across", "holes_far", "hole_small", "hole_under_kerf",
        "web_thin", "hole_near_bend", "hole_on_bend", "opening_on_bend", "flange_short", "relief_missing",
        "relief_small", "leg_lost", "no_socket_room", "part_near_bolt", "wall_near_bolt", "wrench_tight",
        "seat_overhangs", "seats_meet", "seat_on_neighbor", "neighbors_unknown", "root_gap_held", "root_gap_unsure",
        "root_gap_wide", "tab_tight", "tab_loose", "tab_short", "tab_proud", "weld_spread", "frozen_changed",
        "frozen_released", "size_not_held", "not_told_apart", "assembled_wrong", "bend_between", "bend_assumed", "odds",
        "fits", "fits_together", "witnessed", "ring_tight", "ring_odds", "ring_closes", "faces_apart",
        "template_misfit",
    ),
    # a whole: every pair of it is put right first
    ("ring_open",),
    # to be decided or measured
    (
        "question_open", "not_calculated", "source_open", "assumed", "not_measured", "not_proven", "measured_on_other",
        "dimension_not_proven", "points_not_proven", "reading_overdue", "instrument_overdue", "distance_overdue",
        "point_overdue", "reading_doubtful", "unchecked_readings", "template_not_tried",
    ),
    # what follows from a wrong or another drawing, and is one only by itself
    ("left_over", "unmatched", "tab_unmatched", "hole_left_open"),
    ("off_drawing", "off_bent", "hole_lost", "points_moved", "points_lost"),
    ("check_failed", "not_run"),
    # people
    ("partner_open", "unacknowledged", "role_missing"),
)  # fmt: skip
RANKS = MappingProxyType({code: rank for rank, codes in enumerate(_ORDER) for code in codes})
_LAST: Final = len(_ORDER)
_CAUSES: Final = frozenset(code for codes in _ORDER[1:3] for code in codes)
_EFFECTS: Final = frozenset(code for codes in _ORDER[-4:-1] for code in codes)


# What keeps the shapes of a drawing from being read as they are meant, and so its holes and sizes.
_SHAPES: Final = (
    "profile_missing", "profile_changed", "no_outline", "open_contour", "duplicate", "branch", "crossing", "overlap",
    "several_outlines", "island", "concentric", "unreadable_entity", "unexplained_content", "only_recovered", "facets",
    "few_sides", "out_of_round", "nearly_round", "drawing_sheet", "tool_path", "hole_gone",
)  # fmt: skip
_PARTNERS: Final = ("unmatched", "left_over", "tab_unmatched")
_SIZES: Final = ("off_drawing", "off_bent")
# Which codes may only follow from a stop of which; a check that crashed never does.
_EXPLAINED: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        **dict.fromkeys(_SHAPES, (*_PARTNERS, *_SIZES, "hole_lost", "not_run")),
        **dict.fromkeys(_UNITS, (*_PARTNERS, *_SIZES, "hole_left_open")),
        "not_mirrored": (*_PARTNERS, *_SIZES),
        "label_lost": ("hole_lost",),
        "no_common_pattern": _PARTNERS,
    }
)


def rank(code: str) -> int:
    """The place of a code, the cause lowest; of one that this program does not know the last."""
    return RANKS.get(code, _LAST)


def by_cause(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, causes first; of one rank as they were."""
    return tuple(sorted(findings, key=lambda f: rank(f.code)))


def is_cause(code: str) -> bool:
    """Whether it is about a drawing as a whole, which everything else is read from."""
    return code in _CAUSES


def may_follow(code: str) -> bool:
    """Whether it may be there only because a drawing is wrong."""
    return code in _EFFECTS


def explains(cause: str, effect: str) -> bool:
    """Whether a finding of the second code may only follow from a stop of the first, where both are at one place."""
    return effect in _EXPLAINED.get(cause, ())


@dataclass(frozen=True, slots=True)
class Following:
    """Findings that follow from the one shown before them, as one line."""

    cause: str
    findings: tuple[Finding, ...]

    @property
    def text(self) -> str:
        """`follows from the above: 6 findings (unmatched 4, not run 2)`."""
        kinds = Counter(f.code.replace("_", " ") for f in self.findings)
        each = ", ".join(f"{code} {count}" for code, count in kinds.items())
        return f"follows from the above: {counted(len(self.findings), 'finding')} ({each})"


def grouped(findings: Iterable[Finding]) -> Iterator[Finding | Following]:
    """The findings to show, each cause with what follows from it behind its last one; what has no cause here itself."""
    findings = tuple(findings)
    last = {f.code: at for at, f in enumerate(findings) if f.severity == "stop" and not f.follows}
    for at, finding in enumerate(findings):
        if finding.follows not in last:
            yield finding
        if last.get(finding.code) == at:
            behind = tuple(f for f in findings if f.follows == finding.code)
            if behind:
                yield Following(finding.code, behind)
