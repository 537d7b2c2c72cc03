"""
Look over the bytes of a DXF file before any library parses them.

A library may hang in C on a radius of 1e15, take a missing radius for 1, or keep the second of two ENTITIES
sections without a word. So every number, count and name that can do harm is looked at here first, in one pass.
A *record* is what stands between two tags of group code 0: an entity, a table entry, a section head.
Raises Unreadable with the place and a fix. What the geometry means is left to the reader.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from ledger.domain.errors import Unreadable, visible
from ledger.profile.blocks import Block, BlockGraph
from ledger.profile.records import check_entity
from ledger.profile.tokens import BINARY_START, Tag, is_real, real, tags, whole, word

MOST_BYTES = 10 * 1024 * 1024
MOST_ENTITIES = 100_000
MOST_NUMBER = 1e6
_PARTS_OF_OTHERS = ("VERTEX", "SEQEND", "ATTRIB")
_XDATA = 1000


@dataclass(frozen=True, slots=True)
class Scan:
    """What the header says, and how many entities stand where; a loader that drops one can so be caught."""

    binary: bool = False
    version: str = "AC1009"
    codepage: str = "ANSI_1252"
    insunits: int | None = None
    measurement: int | None = None
    drawn: int = 0
    expanded: int = 0
    in_blocks: dict[str, int] = field(default_factory=dict)


def scan(data: bytes) -> Scan:
    """Read the whole file once as tags. Raises Unreadable on anything that must not reach a parser."""
    _sniff(data)
    try:
        return _scanned(data)
    except ValueError as error:
        raise Unreadable(
            f"a count in the file is not a whole number ({error}); export the drawing again"
        ) from None


def _scanned(data: bytes) -> Scan:
    scanner = _Scanner()
    record: list[Tag] = []
    for tag in tags(data):
        if tag[0] == 0:
            scanner.take(record)
            record = []
        elif not record and tag[0] != 999:  # noqa: PLR2004 - the code of a comment
            raise Unreadable(
                "this is not a DXF file: it does not begin with a section; export the drawing again"
            )
        if tag[0] != 999:  # noqa: PLR2004
            record.append(tag)
    scanner.take(record)
    return scanner.result(binary=data.startswith(BINARY_START))


def _sniff(data: bytes) -> None:
    if not data.strip():
        raise Unreadable("the file is empty; export the drawing again")
    if len(data) > MOST_BYTES:
        raise Unreadable(
            f"the file has {len(data) / 1024 / 1024:.1f} MB, at most {MOST_BYTES // 1024 // 1024} MB are read; "
            "leave out what is not the plate"
        )
    if data.startswith((b"AC10", b"MC0.0", b"AC1.", b"AC2.")):
        raise Unreadable("this is a DWG file with another name; save it as DXF")
    if data.startswith(b"%PDF"):
        raise Unreadable("this is a PDF file; ask for the drawing as DXF")


class _Scanner:
    """Takes records in order and keeps what a `Scan` tells."""

    def __init__(self) -> None:
        self.section = ""
        self.seen: set[str] = set()
        self.ended = False
        self.raw = 0
        self.drawn = 0
        self.graph = BlockGraph()
        self.block: Block | None = None
        self.header: dict[str, Tag] = {}

    def take(self, record: list[Tag]) -> None:
        """One record, in the order of the file."""
        if not record:
            return
        kind = word(record[0][1])
        if self.ended:
            raise Unreadable("there is data after the end of the drawing; export the drawing again")
        geometry = self.section in ("ENTITIES", "BLOCKS")
        _check_numbers(kind, record, limit=MOST_NUMBER if geometry else math.inf)
        if kind == "EOF":
            self._end_of_file()
        elif kind == "SECTION":
            self._begin(record)
        elif kind == "ENDSEC":
            self.section, self.block = "", None
        elif geometry:
            self._entity(kind, record)

    def result(self, *, binary: bool) -> Scan:
        """The scan, once the file has ended."""
        if not self.ended:
            raise Unreadable(
                "the file is cut short: its end mark is missing; export or copy the drawing again"
            )
        if "ENTITIES" not in self.seen:
            raise Unreadable(
                "the file has no ENTITIES section, so nothing is drawn in it; export the drawing again"
            )
        version = self._header_word("$ACADVER", "AC1009")
        return Scan(
            binary=binary,
            version=version,
            codepage=self._header_word("$DWGCODEPAGE", "ANSI_1252"),
            insunits=self._header_code("$INSUNITS"),
            measurement=self._header_code("$MEASUREMENT"),
            drawn=self.drawn,
            expanded=self.graph.check(),
            in_blocks={name: block.entities for name, block in self.graph.blocks.items()},
        )

    def _end_of_file(self) -> None:
        if self.section:
            raise Unreadable(
                f"the file is cut short inside its {visible(self.section)} section; export or copy it again"
            )
        self.ended = True

    def _begin(self, record: list[Tag]) -> None:
        name = next((word(value).upper() for code, value in record[1:] if code == 2), "")  # noqa: PLR2004
        if self.section:
            raise Unreadable(
                f"section {visible(name)!r} begins inside {self.section}; export the drawing again"
            )
        if name in self.seen:
            raise Unreadable(f"the file has two {visible(name)} sections; export the drawing again")
        self.section = name
        self.seen.add(name)
        if name == "HEADER":
            self._read_header(record)

    def _read_header(self, record: list[Tag]) -> None:
        current = ""
        for code, value in record:
            if code == 9:  # noqa: PLR2004 - the name of a header variable
                current = word(value).upper()
            elif current:
                self.header.setdefault(current, (code, value))

    def _header_word(self, name: str, default: str) -> str:
        return word(self.header[name][1]) if name in self.header else default

    def _header_code(self, name: str) -> int | None:
        if name not in self.header:
            return None
        value = self.header[name][1]
        try:
            return whole(value)
        except ValueError:
            raise Unreadable(
                f"header {name} should be a whole number and is {visible(word(value), most=30)!r}; "
                "export the drawing again"
            ) from None

    def _entity(self, kind: str, record: list[Tag]) -> None:
        self.raw += 1
        if self.raw > MOST_ENTITIES:
            raise Unreadable(
                f"the file has more than {MOST_ENTITIES} entities, so it is more than one plate; "
                "leave out what is not the plate"
            )
        own = _own_tags(record)
        check_entity(kind, own)
        if self.section == "BLOCKS" and kind == "BLOCK":
            self.block = self.graph.begin(next((word(v) for c, v in own if c == 2), ""))  # noqa: PLR2004
        elif self.section == "BLOCKS" and kind == "ENDBLK":
            self.block = None
        elif kind not in _PARTS_OF_OTHERS:
            self._count(kind, own)

    def _count(self, kind: str, own: list[Tag]) -> None:
        target = self.graph.drawing if self.section == "ENTITIES" else self.block
        if target is None:
            raise Unreadable(f"{visible(kind)} is outside any block; export the drawing again")
        values = dict(own)
        if kind == "INSERT":
            times = max(1, whole(values.get(70, 1))) * max(1, whole(values.get(71, 1)))
            target.add(word(values[2]), times)
        else:
            target.add(None, 1)
        if self.section == "ENTITIES" and not whole(values.get(67, 0)):
            self.drawn += 1


def _own_tags(record: list[Tag]) -> list[Tag]:
    """The tags that belong to the entity itself: not its extended data, not an embedded object."""
    for k, (code, _) in enumerate(record):
        if code >= _XDATA or code == 101:  # noqa: PLR2004 - begins an embedded object
            return record[:k]
    return record


def _check_numbers(kind: str, record: list[Tag], limit: float) -> None:
    for code, value in record:
        if not is_real(code):
            continue
        try:
            number = real(value)
        except ValueError as error:
            raise Unreadable(f"{visible(kind)}: group {code} should be a number and is {error}") from None
        if not math.isfinite(number) or (abs(number) > limit and code < _XDATA):
            raise Unreadable(
                f"{visible(kind)}: group {code} is {number:g}; numbers up to {MOST_NUMBER:g} can be drawn; "
                "find that entity in the drawing and delete or move it"
            )
