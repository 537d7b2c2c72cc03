"""
What is recorded of a part, and of a vendor, each field once: its name, how it is asked for, what depends on it.

From here follow the options of `fitup part`, `show --json`, the rows of the part screen, *what changed*, what a
fingerprint holds and the lines of the papers. A field that no rule reads needs nothing else: it is kept as text among
`Part.said`. One that rules read has an attribute of `Part` as well, so that its type is known, an act's field that
reads it, and a column.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from ledger.domain.record import Part

SHEET, RECORD, CUT_LIST, REPORT = "sheet", "record", "cut list", "report"


@dataclass(frozen=True, slots=True)
class PartField:
    """
    One thing recorded of a part.

    `asks` is what the command line says of it; nothing where it has an option of its own. `typed`: `Part` has an
    attribute of that name. `as_written`: that is a value with its text, and the text is shown. `counts`: a signature
    holds only while it stays; what is typed always counts. `fixed`: it stays as it was first recorded. `papers`: where
    it has a line of its own; other papers word it with something else.
    """

    name: str
    asks: str = ""
    words: str = ""
    number: bool = False
    typed: bool = True
    as_written: bool = False
    counts: bool = True
    fixed: bool = False
    papers: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What it is called on paper."""
        return self.words or self.name.replace("_", " ")


PART_FIELDS: tuple[PartField, ...] = (
    PartField("title", "what it is"),
    PartField("form", "cut (default), site, bought", fixed=True),
    PartField("material", "material and grade"),
    PartField("thickness", "such as '12 mm', '3/16 in', or '16 ga' of a known material"),
    PartField("process", "laser, water-jet, plasma, machined …"),
    PartField("quantity", "how many are ordered", number=True),
    PartField("per_assembly", "or how many go into each assembly", number=True),
    PartField("assemblies", "how many assemblies (default: 1)", number=True),
    PartField("spares", "how many more (default: 0)", number=True),
    PartField("etched", "the number etched or cut into it, to tell it from parts like it"),
    PartField("coating", "coating, such as 'hot-dip zinc'"),
    PartField("coating_thickness", "thickness of the coating on each face"),
    PartField(
        "masked",
        "what the coating leaves bare: holes, top, bottom, edges, or labels of holes",
        as_written=True,
    ),
    PartField("density", "such as '7850 kg/m3', where no table has the material", as_written=True),
    PartField(
        "grain",
        "grain direction, such as 'along the length'",
        words="grain direction",
        typed=False,
        papers=(SHEET, RECORD, CUT_LIST, REPORT),
    ),
    PartField("vendor", "who is to cut it, as recorded by fitup vendor", typed=False, counts=False),
    PartField("hand", "either (default), 'as drawn', opposite"),
    PartField("opposite_of", "the part this one is the opposite hand of"),
    PartField("unconnected"),
    PartField("note", "a remark; other parts' signatures do not depend on it"),
)


@dataclass(frozen=True, slots=True)
class VendorField:
    """One thing recorded of a vendor (an attribute of `Vendor`): the option of `fitup vendor`, its sample, its help."""

    name: str
    option: str
    sample: str
    asks: str


VENDOR_FIELDS: tuple[VendorField, ...] = (
    VendorField("processes", "processes", "'laser, plasma'", "what they cut by"),
    VendorField("lead_days", "lead", "DAYS", "lead time in their working days"),
    VendorField("weekdays", "days", "Mon..Fri", "the days they work (default: Mon..Fri)"),
    VendorField("days_off", "off", "YYYY-MM-DD", "days off, and spans as DAY..DAY"),
)


class Recorded(Protocol):
    """One of several of a kind that are recorded of a part: `shown` is how it reads on the screen of that part."""

    @property
    def words(self) -> str: ...

    def shown(self, part: Part) -> str: ...

    def to_json(self) -> dict[str, Any]: ...


@dataclass(frozen=True, slots=True)
class PartList:
    """
    What is recorded of a part several times: an attribute of `Part`, and what one of its values is called.

    The fingerprint holds what each says as JSON, `show --json` too; *what changed* tells its words by its place in the
    list, and the screen of the part has a row.
    """

    name: str
    caption: str

    def of(self, part: Part) -> tuple[Recorded, ...]:
        """The values, in the order of the record."""
        found: tuple[Recorded, ...] = getattr(part, self.name)
        return found


def to_json(part: Part) -> dict[str, Any]:
    """Every list of a part that is not empty, by its name."""
    return {some.name: [one.to_json() for one in some.of(part)] for some in PART_LISTS if some.of(part)}


PART_LISTS: tuple[PartList, ...] = (PartList("trials", "template tried"),)


def value_of(part: Part, name: str) -> object:
    """What is recorded of a field; an empty text where nothing is, for one that is not typed or is told as written."""
    field = next((f for f in PART_FIELDS if f.name == name), None)
    if field is not None and not field.typed:
        return dict(part.said).get(name, "")
    value: object = getattr(part, name)
    return str(value or "") if field is not None and field.as_written else value


def on_paper(part: Part, paper: str) -> Iterator[tuple[str, str]]:
    """The lines that a paper has of fields: what each is called, and what is recorded, which may be nothing."""
    for field in PART_FIELDS:
        if paper in field.papers:
            yield field.label, str(value_of(part, field.name) or "")


def untyped() -> frozenset[str]:
    """The names of the fields that are kept as text."""
    return frozenset(f.name for f in PART_FIELDS if not f.typed)
