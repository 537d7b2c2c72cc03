"""
What `fitup --help` shows: the commands by what somebody wants to do, each in one line, with an example that reads.

The whole text of a command is in its own `--help`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

_WIDE: Final = 12
_MOST: Final = 78


@dataclass(frozen=True, slots=True)
class Section:
    """Commands that serve one purpose, and an example of one of them."""

    title: str
    example: str
    commands: tuple[str, ...]


SECTIONS: Final = (
    Section(
        "Files, without a job",
        "fitup fit base.dxf turntable.dxf --fastener M12",
        ("demo", "look", "mend", "fit", "checks"),
    ),
    Section(
        "A job and its parts",
        "fitup take drawings/ --names '{number}_{material}_{thickness}_x{quantity}'",
        (
            *("start", "part", "parts", "show", "take", "watch", "group", "dimension", "operation", "bend"),
            *("bend-data", "revise", "remove"),
        ),
    ),
    Section(
        "What was measured on the structure",
        'fitup hole PIER "S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured"',
        (
            "hole",
            "point",
            "distance",
            "survey",
            "instrument",
            "points",
            "template",
            "tried",
            "enter",
            "dimensions",
        ),
    ),
    Section(
        "The job as text",
        "fitup read job.toml --record",
        ("write", "read", "schema"),
    ),
    Section(
        "How parts go together",
        'fitup connect "BASE-PIER: bolted M16 stud, BASE studs on PIER"',
        (
            *("connect", "connections", "suggest", "bolt", "clearance", "measure", "freeze", "disconnect"),
            "assembly",
        ),
    ),
    Section(
        "May it go out?",
        "fitup verdict BASE TURN",
        (
            "next",
            "verdict",
            "why",
            "ask",
            "link",
            "answer",
            "evidence",
            "changes",
            "permit",
            "withdraw",
            "sign",
            "lock",
        ),
    ),
    Section(
        "Out to the vendors, and back",
        'fitup order "O1 to Kerf & Son: BASE 2, TURN 1" -o o1',
        ("guard", "packet", "vendor", "order", "hardware", "schedule", "receive", "inspect", "recall"),
    ),
    Section(
        "Papers and pictures",
        "fitup sheet BASE -o base.pdf",
        ("picture", "sheet", "record", "report"),
    ),
    Section(
        "People and keys",
        'fitup enroll "Mira: drawn, checked"',
        ("enroll", "people", "roles", "retire", "key", "root", "policy"),
    ),
    Section(
        "Keeping it",
        "fitup verify",
        (*("journal", "undo", "verify", "seal", "export", "import", "backup", "grants", "completion"),),
    ),
)


def overview(usage: str, description: str, options: str, told: Mapping[str, str]) -> str:
    """The whole help; `told` is what each command does, by name."""
    lines = [usage.rstrip(), "", description, ""]
    for section in SECTIONS:
        lines += [section.title, f"  {section.example}"]
        lines += [f"    {name:<{_WIDE}}{short(told[name])}" for name in section.commands]
        lines.append("")
    lines += [
        options.rstrip(),
        "",
        "fitup COMMAND --help tells all of a command; fitup alone opens the screens.",
    ]
    return "\n".join(lines) + "\n"


def short(text: str) -> str:
    """What a command does in as much as goes on one line: up to where the text breaks."""
    room = _MOST - _WIDE - 4
    for mark in (";", ":", ","):
        if len(text) > room:
            text = text.partition(mark)[0]
    return text if len(text) <= room else text[:room].rpartition(" ")[0] + " …"
