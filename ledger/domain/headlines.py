"""
The headline of a finding: at most 60 characters, subject first, number second.

It says what is wrong at a glance; the message says the rest. A code has a form here where its message is longer than
that; `{at}` stands for the place ("H5 of ARM-R"), `{name}`, `{of}` and `{label}` for the first, middle and last piece
of it. Without a form a headline is as much of the message as ends with a clause.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

LONGEST: Final = 60
_LONGEST_NAME: Final = 24
_SHORTEST_NAME: Final = 8

_FORMS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "assembled_wrong": "{name} can be assembled wrong: {measured}",
        "bend_assumed": "bend data assumed, not entered",
        "bend_between": "bends add {measured} to the position zone of {of}",
        "bend_lost": "bend line {at} is no longer on the drawing",
        "bend_not_straight": "bend line {at} is not straight",
        "bend_sharp": "{name} is bent to R {measured} ({limit})",
        "bend_table_odd": "{name} gives K-factor {measured} (expected {limit})",
        "bend_unsaid": "{at}: bend data missing",
        "bolt_hits": "bolt of {measured} hits {label} ({limit})",
        "bolt_long": "bolt has {measured} of plain shank (grip {limit})",
        "bolt_odd_length": "bolt of {measured} is not a stock length",
        "bolt_required": "{name}: at least {measured} of bolt needed",
        "bolt_short": "{name}: bolt of {measured} does not reach ({limit})",
        "clearance_missed": "{label} is {measured} (required {limit})",
        "edge_far": "{of}: hole {measured} from an edge (max {limit})",
        "edge_near": "{of}: hole {measured} from an edge (min {limit})",
        "edge_not_square": "{at}: cut edge {limit} off square (allows {measured})",
        "falls_through": "{at} is {measured} wide, head or washer {limit}",
        "fits": "{name} fits; margin {measured}, {limit}",
        "fits_together": "{name} and {label} fit together; margin {measured}",
        "flange_short": "flange at {name} is {measured} (min {limit})",
        "frozen_changed": "{at} was frozen at {limit}, now {measured}",
        "frozen_released": "{at} is no longer frozen",
        "gap_in_play": "{name}: {measured} left when bolts shift ({limit})",
        "gap_large": "{name}: gap {measured} (expected {limit})",
        "gap_small": "{name}: gap {measured} (expected {limit})",
        "hole_left_open": "{at} is {measured} wide; washer leaves it open",
        "hole_lost": "{at} is measured on what is not on the drawing",
        "hole_near_bend": "{label} is {measured} from a bend (min {limit})",
        "hole_on_bend": "{label} is on bend line {name}",
        "hole_small": "hole of {measured}; cuts well from {limit}",
        "hole_under_kerf": "hole of {measured} is not wider than the kerf ({limit})",
        "holes_far": "{of}: holes {measured} apart (max {limit})",
        "holes_near": "{of}: holes {measured} apart (min {limit})",
        "holes_near_across": "{of}: holes {measured} apart across (min {limit})",
        "interface_changed": "interface of {label} changed since it was frozen",
        "joint_missing": "{name}: fastener or joint missing",
        "label_lost": "{at} is named, but not on the drawing",
        "left_over": "{name}: holes on both plates meet nothing",
        "leg_lost": "{at} is measured on what is not on the drawing",
        "neighbors_overlap": "{name}: neighbors can overlap on one face",
        "network_free": "the distances do not fix every point",
        "network_impossible": "points and distances do not form a network",
        "no_common_pattern": "{name}: no common hole pattern",
        "no_metal_to_tap": "{at} is {measured}, too wide to tap ({limit})",
        "no_order": "no order of assembly reaches {name}",
        "no_socket_room": "{at}: no room for a socket, {measured} ({limit})",
        "not_proven": "{label} is {measured} (required {limit})",
        "not_together": "{name} and {label} do not fit together",
        "not_told_apart": "looks like {measured}, no etched number",
        "odds": "{name}: odds {measured} ({limit} required)",
        "odds_together": "{name} and {label}: odds {measured} ({limit})",
        "odds_too_low": "{name}: odds {measured} ({limit} required)",
        "off_bent": "{at} bends to {measured} (must be {limit})",
        "off_drawing": "{at} is drawn {measured} (must be {limit})",
        "offset": "{at} is {measured} off (allows {limit})",
        "opening_on_bend": "{label} is on bend line {name}",
        "other_position": "{name}: holes agree better in another position",
        "part_near_bolt": "{label} is {measured} from a bolt ({limit})",
        "parts_overlap": "{name} and {label} are {measured} deep in each other",
        "plates_overlap": "{name}: plates overlap by {measured}",
        "points_lost": "{at} is measured on points not measured",
        "points_moved": "{at}: points {measured} apart (must be {limit})",
        "points_not_proven": "{at}: points {measured} apart (must be {limit})",
        "position_differs": "{label} has another position between the same parts",
        "reading_off": "a reading is off ({measured}); which one is open",
        "relief_missing": "{name}: no bend relief",
        "relief_small": "{name}: bend relief too small",
        "root_gap_held": "{name}: held at {measured} (expected {limit})",
        "root_gap_off": "{name}: root gap {measured} (expected {limit})",
        "root_gap_unsure": "{name}: root gap {measured} (expected {limit})",
        "root_gap_wide": "{name}: root gap allowed over {limit}",
        "seat_on_neighbor": "washer seat at {at} meets a neighbor",
        "seat_overhangs": "washer seat at {at} overhangs the edge",
        "seats_meet": "washer seats at {at} meet: {measured} ({limit})",
        "size_not_held": "{at} needs ±{measured}, the cut holds ±{limit}",
        "socket_blocked": "{label} is in the way of a socket for {name}",
        "source_open": "{at} follows an open dimension",
        "sticks_out": "{label} sticks out of the opening by {measured}",
        "tab_loose": "slot {label} has {measured} of margin (max {limit})",
        "tab_misfit": "slot {label} is short by {measured}",
        "tab_short": "tab reaches {measured} (min {limit})",
        "tab_tight": "slot {label} has {measured} of margin (min {limit})",
        "thread_asked": "{at} of {measured}: tapped, or plain?",
        "thread_short": "thread engagement {measured} ({limit})",
        "tight_together": "{name} and {label}: too tight in the worst case",
        "tight_worst_case": "{name} is short by {measured} in the worst case",
        "too_wide_to_tap": "{at} is {measured}, too wide to tap ({limit})",
        "turned_over_differs": "{label} is turned over in only one of the two",
        "unit_doubtful": "{measured} of drawing for {limit} plate: unit?",
        "wall_near_bolt": "a bent wall is {measured} from a bolt ({limit})",
        "web_thin": "web of {measured}; cuts well from {limit}",
        "weld_class_missing": "{name}: weld class not entered, B was taken",
        "weld_spread": "{name}: weld moves holes {limit}, joints take {measured}",
        "words_differ": "drawing says {at} {measured}, record {limit}",
        "wrench_tight": "{measured} beside a bolt: no open-end wrench ({limit})",
    }
)


def headline(code: str, message: str, where: str, measured: str, limit: str) -> str:
    """One line of at most 60 characters. Pure; for a code without a form from the message alone."""
    if code == "question_open":
        asked = message.partition(": ")[2].partition("; it depends on")[0]
        return _cut(f"{where.rpartition('/')[2]}: {asked}")
    form = _FORMS.get(code)
    if form is None or not _has_all(form, measured, limit):
        return message if len(message) <= LONGEST else _clauses(message)
    pieces = where.split("/")
    for most in range(_LONGEST_NAME, _SHORTEST_NAME - 1, -4):
        short = _shortener(most)
        found = form.format(
            at=_place(pieces, short), name=short(pieces[0]), of=short(pieces[1 if len(pieces) > 2 else 0]),  # noqa: PLR2004
            label=short(pieces[-1]), measured=_number(measured), limit=_number(limit),
        )  # fmt: skip
        found = (
            found.replace("(expected min ", "(min ")
            .replace("(required min ", "(min ")
            .replace("short by -", "short by ")
        )
        if len(found) <= LONGEST:
            return found
    return _clauses(message)


def _has_all(form: str, measured: str, limit: str) -> bool:
    return bool((measured or "{measured}" not in form) and (limit or "{limit}" not in form))


def _place(pieces: list[str], short: Callable[[str], str]) -> str:
    """`H5 of ARM-R` for a hole of a part in a connection, else the last piece."""
    if len(pieces) > 2:  # noqa: PLR2004 - connection, part, hole
        return f"{short(pieces[2])} of {short(pieces[1])}"
    return short(pieces[-1])


def _shortener(most: int) -> Callable[[str], str]:
    def short(name: str) -> str:
        if len(name) <= most:
            return name
        first, *others = name.split(" ")
        if others and len(first) < most - 6 and re.fullmatch(r"H\d+", first):
            return f"{first} and {len(others)} more"
        return f"{name[: most // 2]}…{name[len(name) - (most - most // 2 - 1) :]}"

    return short


def _number(words: str) -> str:
    """Two decimals where the third is 0; a bound in words."""
    words = re.sub(r"(\d\.\d\d)0(?=\D|$)", r"\1", words).replace(" mm to ", " to ")
    return words.replace(">= ", "min ").replace("<= ", "max ").removeprefix("< ")


def _clauses(message: str) -> str:
    """As many whole clauses of a message as there is room for; else as many words."""
    ends = [m.start() for m in re.finditer(r"(?:[:;,] | \()", message) if m.start() <= LONGEST]
    if ends:
        return message[: ends[-1]]
    return _cut(message)


def _cut(words: str) -> str:
    return words if len(words) <= LONGEST else words[: LONGEST - 1].rsplit(" ", 1)[0] + "…"
