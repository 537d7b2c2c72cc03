"""
Rooms, floors and arrows of the house, counted from its imports: `python tests/house/test_plan_of_the_house.py` prints.

A *room* is a package of `ledger`, a module that stands in `ledger` itself, or `tui`. An *arrow* is a room that imports
another one, wherever in a module that is, but for types only. A *floor* is one more than the highest floor below.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MOST_LOOSE = 6


def room_of(name: str) -> str:
    """The room of a dotted module: its first two words within ledger, the first one within tui."""
    words = name.split(".")
    return words[0] if words[0] == "tui" or len(words) == 1 else ".".join(words[:2])


def modules() -> Iterator[tuple[str, Path]]:
    """Every module by its dotted name."""
    for top in ("ledger", "tui"):
        for path in sorted((ROOT / top).rglob("*.py")):
            words = path.relative_to(ROOT).with_suffix("").parts
            yield ".".join(words[:-1] if words[-1] == "__init__" else words), path


def imported(tree: ast.AST) -> Iterator[str]:
    """What is imported when it runs: not what is for types only."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield from (f"{node.module}.{a.name}" for a in node.names)
        elif isinstance(node, ast.Import):
            yield from (a.name for a in node.names)
        else:
            yield from imported(node)


def arrows() -> dict[str, set[str]]:
    """Of every room the rooms it imports."""
    known = {room_of(name) for name, _path in modules()}
    out: dict[str, set[str]] = {room: set() for room in known}
    for name, path in modules():
        here = room_of(name)
        asked = {room_of(n) for n in imported(ast.parse(path.read_text(encoding="utf-8")))}
        out[here] |= (asked & known) - {here, "ledger"}
    return {room: to for room, to in out.items() if room != "ledger"}


def floors(to: dict[str, set[str]]) -> dict[str, int]:
    """The floor of every room, the lowest 0; rooms on a circle are left out."""
    out: dict[str, int] = {}
    while ready := [r for r in to if r not in out and to[r] <= out.keys()]:
        out |= {r: 1 + max((out[t] for t in to[r]), default=-1) for r in ready}
    return out


def test_no_rooms_import_each_other_in_a_circle():
    to = arrows()
    assert sorted(to.keys() - floors(to).keys()) == []


DOORS = {"ledger.domain", "ledger.words", "ledger.job", "ledger.files"}


@pytest.mark.parametrize(
    ("face", "besides"), [("tui", {"ledger.cli", "ledger.demo"}), ("ledger.cli", {"ledger.demo"})]
)
def test_a_face_knows_values_words_and_the_two_doors(face, besides):
    """Besides: starting the other face, and the demo, which is a walk of its own above the job."""
    assert arrows()[face] == DOORS | besides


def test_few_modules_stand_outside_a_room():
    loose = sorted(p.name for p in (ROOT / "ledger").glob("*.py") if p.name != "__init__.py")
    assert 0 < len(loose) <= MOST_LOOSE, loose


def test_what_only_types_need_is_no_arrow():
    tree = ast.parse(
        "if TYPE_CHECKING:\n    from a import b\ndef f():\n    import c.d\n    from e import g\n"
    )
    assert list(imported(tree)) == ["c.d", "e.g"]


if __name__ == "__main__":
    found = arrows()
    high = floors(found)
    lines = [
        f"{len(found)} rooms on {1 + max(high.values())} floors, {sum(map(len, found.values()))} arrows",
        f"on a circle: {', '.join(sorted(found.keys() - high.keys())) or 'none'}",
        *(
            f"{high.get(room, '?'):>3}  {room}: {', '.join(sorted(found[room]))}"
            for room in sorted(found, key=lambda r: (-high.get(r, 99), r))
        ),
    ]
    sys.stdout.write("\n".join(lines) + "\n")
