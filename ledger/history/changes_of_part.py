"""
What differs between two states of one part, in words: its record, its drawing, its holes, dimensions, questions.

A *change* says what differs and how it read before and after; an empty side means that there was nothing then, or
that there is nothing now. Places and sizes are compared to a nanometre, as digests do. Nothing here reads a job.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ledger.domain import digest, fields
from ledger.domain.quantity import show_mm
from ledger.domain.record import Dimension, HoleGroup, Part
from ledger.domain.shape import Contour, Hole, Profile, Stroke

_PLACES = 6
_SHORT = 12  # so many figures of a digest tell two apart


@dataclass(frozen=True, slots=True)
class Change:
    """One difference: what, which one, and how it read before and after (empty: nothing there)."""

    what: str
    name: str
    before: str
    after: str

    @property
    def words(self) -> str:
        """The change as one line."""
        about = f"{self.what} {self.name}".strip()
        if not self.before:
            return f"{about}: new, {self.after}"
        if not self.after:
            return f"{about}: gone, was {self.before}"
        return f"{about}: {self.before} -> {self.after}"

    def to_json(self) -> dict[str, str]:
        """Plain values for JSON."""
        return {
            "what": self.what,
            "name": self.name,
            "before": self.before,
            "after": self.after,
            "words": self.words,
        }


def differing(
    what: str, before: Mapping[str, object], after: Mapping[str, object], *, of: str = ""
) -> Iterator[Change]:
    """The entries of two tables of words that are not the same, by name, named within `of`."""
    for name in dict.fromkeys((*before, *after)):
        old, new = words_of(before.get(name)), words_of(after.get(name))
        if old != new:
            yield Change(what, f"{of}/{name}" if of else name, old, new)


def changed_fields(
    before: Mapping[str, object], after: Mapping[str, object], *, name: str = ""
) -> Iterator[Change]:
    """Like `differing`, where the names of the entries say what it is that differs, of the one thing `name`."""
    for change in differing("", before, after):
        yield Change(change.name.replace("_", " "), name, change.before, change.after)


def words_of(value: object) -> str:
    """A value of a record in words; nothing is an empty text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def part_changes(before: Part, after: Part) -> tuple[Change, ...]:
    """Everything that differs in what a part says of itself. Where digests differ there is at least one change."""
    found = (
        *changed_fields(*(_fields(p) for p in (before, after))),
        *_drawing(before, after),
        *hole_changes(before, after),
        *bend_changes(before, after),
        *differing("hole group", *({g.name: _group(g) for g in p.groups} for p in (before, after))),
        *differing("distance", *(_distances(p) for p in (before, after))),
        *_dimensions(before, after),
        *_questions(before, after),
        *_lists(before, after),
    )
    if found:
        return found
    own = digest.own(before), digest.own(after)
    return (Change("record", "", own[0][:_SHORT], own[1][:_SHORT]),) if own[0] != own[1] else ()


def _group(group: HoleGroup) -> str:
    return " ".join(group.labels) + (f", from {group.reference}" if group.reference else "")


def _distances(part: Part) -> dict[str, object]:
    return {
        f"{d.a} to {d.b}": f"{d.value.written} ±{d.uncertainty.written}, {d.instrument}"
        for d in part.distances
    }


def interface_changes(before: Part, after: Part) -> tuple[Change, ...]:
    """What differs in what a part can show to another one: size, holes, material around them."""
    seen = ("thickness", "coating", "coating_thickness", "masked", "process", "form")
    fields = ({n: _fields(p)[n] for n in seen} for p in (before, after))
    changed = (*changed_fields(*fields), *_geometry(before, after))
    return (*changed, *hole_changes(before, after), *bend_changes(before, after))


def hole_changes(before: Part, after: Part) -> Iterator[Change]:
    """Holes by their labels: new, gone, moved, of another size, finished otherwise, known otherwise."""
    old, new = ({h.label: h for h in p.holes} for p in (before, after))
    for label in dict.fromkeys((*old, *new)):
        yield from _hole(label, old.get(label), new.get(label))
    operations = (
        {f.label: f"{f.operation} {f.thread}".strip() for f in p.operations} for p in (before, after)
    )
    yield from differing("hole operation", *operations)
    known = (
        {
            m.hole.label: f"{m.source} ±{m.uncertainty.written}" if m.uncertainty else m.source
            for m in p.measured_holes
        }
        for p in (before, after)
    )
    both = old.keys() & new.keys()
    yield from (c for c in differing("hole known by", *known) if c.name in both)


def bend_changes(before: Part, after: Part) -> Iterator[Change]:
    """Bends by their labels, as they were stated."""
    yield from differing("bend", *({b.label: b.words for b in p.bends} for p in (before, after)))
    bend_lines = (
        {"vendor's bend data": p.bend_data.words if p.bend_data and p.bends else ""} for p in (before, after)
    )
    yield from changed_fields(*bend_lines)


def _fields(part: Part) -> dict[str, object]:
    names = ("revision", *(field.name for field in fields.PART_FIELDS))
    return {name: fields.value_of(part, name) for name in names}


def _drawing(before: Part, after: Part) -> Iterator[Change]:
    """The file and what is drawn in it besides round holes and slots."""
    old, new = before.taken, after.taken
    files = ({"drawing": f"{t.file_name} {t.dxf_sha256[:_SHORT]}" if t else ""} for t in (old, new))
    yield from changed_fields(*files)
    if old and new:
        yield from changed_fields({"unit of the drawing": old.unit}, {"unit of the drawing": new.unit})
        yield from _geometry(before, after)


def _lists(before: Part, after: Part) -> Iterator[Change]:
    """What is recorded several times, each by its place in the record."""
    for some in fields.PART_LISTS:
        yield from differing(
            some.caption,
            *({str(n): one.words for n, one in enumerate(some.of(p), 1)} for p in (before, after)),
        )


def _geometry(before: Part, after: Part) -> Iterator[Change]:
    old, new = before.profile, after.profile
    if old is None or new is None:
        return
    if _rings([old.outline]) != _rings([new.outline]):
        yield Change("outline", "", _outline(old), _outline(new))
    if _rings(old.openings) != _rings(new.openings):
        yield Change("openings", "", _openings(old), _openings(new))
    for what in ("bends", "marks"):
        lines = (getattr(old, what), getattr(new, what))
        if _strokes(lines[0]) != _strokes(lines[1]):
            yield Change(what, "", *(f"{len(strokes)} lines" for strokes in lines))


def _hole(label: str, old: Hole | None, new: Hole | None) -> Iterator[Change]:
    if old is None or new is None:
        yield Change("hole", label, _whole(old), _whole(new))
        return
    if _core(old) != _core(new):
        yield Change("hole moved", label, _place(old), _place(new))
    if round(old.diameter_mm, _PLACES) != round(new.diameter_mm, _PLACES):
        yield Change("hole size", label, show_mm(old.diameter_mm), show_mm(new.diameter_mm))


def _dimensions(before: Part, after: Part) -> Iterator[Change]:
    old, new = ({d.name: d for d in p.dimensions} for p in (before, after))
    for name in dict.fromkeys((*old, *new)):
        if name in old and name in new:
            yield from changed_fields(dimension_words(old[name]), dimension_words(new[name]), name=name)
        else:
            yield from differing("dimension", *({name: _line(d.get(name))} for d in (old, new)))


def dimension_words(d: Dimension) -> dict[str, object]:
    """A key dimension item by item, in words."""
    return {
        "dimension": d.nominal,
        "formula": d.formula,
        "limits": d.limits,
        "source": d.source,
        "instrument": d.instrument,
        "uncertainty": d.uncertainty,
        "measured_on": d.measured_on,
        "frozen": d.frozen,
        "critical": d.critical,
    }


def _line(d: Dimension | None) -> str:
    return f"{d.nominal} {d.limits or ''}".strip() + f", {d.source}" if d else ""


def _questions(before: Part, after: Part) -> Iterator[Change]:
    texts, answers = (
        [{q.ident: getattr(q, name) for q in p.questions} for p in (before, after)]
        for name in ("text", "answer")
    )
    yield from differing("question", *texts)
    yield from differing("answer to", *answers)
    yield from differing("links of", *({q.ident: q.words for q in p.questions} for p in (before, after)))


def _whole(hole: Hole | None) -> str:
    if hole is None:
        return ""
    return f"{'slot' if hole.is_slot else 'round'} {show_mm(hole.diameter_mm)} at {_place(hole)}"


def _place(hole: Hole) -> str:
    return " to ".join(f"({x:.3f}, {y:.3f})" for x, y in _core(hole)) + " mm"


def _core(hole: Hole) -> list[tuple[float, float]]:
    return sorted((round(x, _PLACES) + 0.0, round(y, _PLACES) + 0.0) for x, y in hole.core)


def _rings(contours: Iterable[Contour | None]) -> list[list[float]]:
    """Rings as figures, whatever their order, direction and first vertex."""
    return sorted([round(n, _PLACES) for v in c.canonical().vertices for n in v] for c in contours if c)


def _strokes(strokes: Iterable[Stroke]) -> list[list[tuple[float, ...]]]:
    """Lines as figures, whatever their order and direction."""
    ends = ([tuple(round(n, _PLACES) for n in v) for v in s.vertices] for s in strokes)
    return sorted(min(run, run[::-1]) for run in ends)


def _outline(profile: Profile) -> str:
    if profile.outline is None:
        return "none"
    low_x, low_y, high_x, high_y = profile.outline.box
    size = f"{high_x - low_x:.3f} x {high_y - low_y:.3f} mm"
    return f"{size} from ({low_x:.3f}, {low_y:.3f}), {abs(profile.outline.area_mm2):.1f} mm2"


def _openings(profile: Profile) -> str:
    area = sum(abs(c.area_mm2) for c in profile.openings)
    return f"{len(profile.openings)} of together {area:.1f} mm2"
