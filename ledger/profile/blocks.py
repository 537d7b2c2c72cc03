"""
How much a drawing grows when its blocks are put in place, counted without doing so.

The *block graph* has an edge for every INSERT: from the block (or the drawing) that holds it to the block it
places, as many times as its rows and columns say. *Expansion* is the number of entities that come out. Ten
nested blocks of ten are a thousand million entities in a few kilobytes, so counting comes first.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from ledger.domain.errors import Unreadable, visible

MOST_EXPANDED = 50_000
MOST_DEPTH = 16


@dataclass(slots=True)
class Block:
    """Entities that stand directly in a block, and which blocks it places how often."""

    entities: int = 0
    places: Counter[str] = field(default_factory=Counter)

    def add(self, placed: str | None, times: int) -> None:
        """One more entity; `placed` is the block it inserts, if it does."""
        self.entities += 1
        if placed is not None:
            self.places[placed.casefold()] += times


class BlockGraph:
    """The drawing and its blocks. Names are the same in upper and lower case, as DXF has it."""

    def __init__(self) -> None:
        self.drawing = Block()
        self.blocks: dict[str, Block] = {}

    def begin(self, name: str) -> Block:
        """A new block. Raises Unreadable when its name is taken: two readers would choose differently."""
        if name.casefold() in self.blocks:
            raise Unreadable(
                f"block {visible(name)!r} is defined twice; purge the drawing and export it again"
            )
        block = self.blocks[name.casefold()] = Block()
        return block

    def check(self) -> int:
        """How many entities come out of blocks. Raises Unreadable past a limit or on a cycle."""
        sizes = self._sizes()
        roots = [
            self.drawing,
            *(b for name, b in self.blocks.items() if name.startswith(("*paper", "*model"))),
        ]
        total = sum(self._placed(root, sizes) for root in roots)
        if total > MOST_EXPANDED:
            raise Unreadable(
                f"the blocks of the drawing expand to {total} entities, at most {MOST_EXPANDED} are read; "
                "leave out what is not the plate"
            )
        return total

    def _expanded(self, block: Block, sizes: dict[str, int]) -> int:
        return block.entities + self._placed(block, sizes)

    def _placed(self, block: Block, sizes: dict[str, int]) -> int:
        """An empty block counts as one: placing it a thousand million times takes time too."""
        return sum(times * max(1, sizes.get(name, 0)) for name, times in block.places.items())

    def _sizes(self) -> dict[str, int]:
        """Expansion of every block, deepest first; without recursion, since depth comes from the file."""
        sizes: dict[str, int] = {}
        depth: dict[str, int] = {}
        for start in self.blocks:
            path: list[str] = [start]
            on_path = {start}
            while path:
                name = path[-1]
                block = self.blocks[name]
                inner = next((n for n in block.places if n in self.blocks and n not in sizes), None)
                if inner is None:
                    sizes[name] = self._expanded(block, sizes)
                    depth[name] = 1 + max((depth.get(n, 0) for n in block.places), default=0)
                    _depth_allowed(name, depth[name])
                    on_path.discard(path.pop())
                elif inner in on_path:
                    raise Unreadable(f"block {visible(inner)!r} contains itself; export the drawing exploded")
                else:
                    path.append(inner)
                    on_path.add(inner)
        return sizes


def _depth_allowed(name: str, depth: int) -> None:
    if depth > MOST_DEPTH:
        raise Unreadable(
            f"blocks are nested {depth} deep at {visible(name)!r}, at most {MOST_DEPTH} are read; "
            "explode the drawing and export it again"
        )
