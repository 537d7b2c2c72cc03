"""What of a part stands in the text of the job: holes, points, groups, dimensions and the like."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.bends import RemoveBend, bend_act
from ledger.acts.dimensions import dimension_act
from ledger.acts.groups import name_group
from ledger.acts.parts import RecordHole, RecordOperation
from ledger.acts.questions import AnswerQuestion, AskQuestion, LinkQuestion
from ledger.acts.removal import RemoveOfPart
from ledger.acts.survey import RemoveDistance, distance_act, point_act
from ledger.domain.errors import BadInput, visible
from ledger.domain.record import Part
from ledger.job_text.kinds import (
    REASON,
    Kind,
    Records,
    Told,
    Tools,
    always,
    behind,
    fields_of,
    in_a_line,
    without,
)
from ledger.store import facts as read
from ledger.store.exact import as_written
from ledger.store.tables import (
    MeasuredHoleFact,
)
from ledger.words.bends import bend_line, bend_of_part_words
from ledger.words.dimensions import dimension_line, dimension_words
from ledger.words.groups import group_line, group_words
from ledger.words.holes import hole_line
from ledger.words.operations import operation_line, operation_words
from ledger.words.points import distance_line, distance_words, point_line, point_words
from ledger.words.questions import link_line, link_words


def _groups(part: Part) -> Records:
    found: Records = {}
    for group in part.groups:
        fields = {"labels": group.labels, "reference": group.reference}
        told = in_a_line(group_words(group), group_line, {"name": group.name, **fields})
        found[group.name] = without(behind(told, f"{group.name} = "))
    return found


def _enter_group(with_: Tools, number: str, name: str, told: Told) -> None:
    fields = fields_of(told, group_line, f"{name} = ")
    labels, reference = tuple(fields.get("labels", ())), str(fields.get("reference", ""))
    name_group(with_.facts, with_.do, number, name, labels, reference)


def _operations(part: Part) -> Records:
    found: Records = {}
    for one in part.operations:
        fields = {"labels": (one.label,), "operation": one.operation, "thread": one.thread}
        told = in_a_line(operation_words((one.label,), one.operation, one.thread), operation_line, fields)
        found[one.label] = without(behind(told, f"{one.label}: "), "labels")
    return found


def _enter_operation(with_: Tools, number: str, label: str, told: Told) -> None:
    fields = {**fields_of(told, operation_line, f"{label}: "), "labels": (label,)}
    with_.do(make(RecordOperation, number=number, **fields))


def _bends(part: Part) -> Records:
    return {b.label: bend_of_part_words(b).removeprefix(f"{b.label}: ") for b in part.bends}


def _enter_bend(with_: Tools, number: str, label: str, told: Told) -> None:
    fields = {**fields_of(told, bend_line, f"{label}: "), "labels": (label,)}
    with_.do(bend_act(with_.facts, number, **fields))


def _dimensions(part: Part) -> Records:
    found: Records = {}
    for one in part.dimensions:
        fields = {
            "nominal": one.formula or one.nominal.written,
            "limits": one.limits.written if one.limits else "",
            "source": one.source,
            "instrument": one.instrument,
            "uncertainty": one.uncertainty.written if one.uncertainty else "",
            "measured_on": str(one.measured_on or ""),
            "frozen": one.frozen,
            "critical": one.critical,
            "how": one.how,
        }
        told = in_a_line(dimension_words(one), dimension_line, {"name": one.name, **fields})
        found[one.name] = without(behind(told, f"{one.name} = "))
    return found


def _enter_dimension(with_: Tools, number: str, name: str, told: Told) -> None:
    fields = {**fields_of(told, dimension_line, f"{name} = "), "name": name}
    with_.do(dimension_act(with_.facts, with_.day, number=number, **fields))


def _is_measured(told: Told) -> bool:
    if isinstance(told, str):
        return any(piece.split()[:1] == ["measured"] for piece in told.split(","))
    return bool(told.get("source") == "measured")


def _questions(part: Part) -> Records:
    found: Records = {}
    for one in part.questions:
        more = {"answer": one.answer, "links": link_words(one)}
        found[one.ident] = {"ask": one.text, **{n: v for n, v in more.items() if v}}
    return found


def _enter_question(with_: Tools, number: str, ident: str, told: Told) -> None:
    if not isinstance(told, dict) or set(told) - {"ask", "answer", "links"} or not told.get("ask"):
        raise BadInput('expected a question as { ask = "…", answer = "…", links = "holds up …" }')
    old = next(
        (q for q in read.part(with_.facts, _newest(with_.facts, number)).questions if q.ident == ident), None
    )
    links = link_line(str(told.get("links", ""))).fields
    if old is None:
        with_.do(make(AskQuestion, number=number, ident=ident, text=str(told["ask"]), **links))
    elif old.text != told["ask"]:
        raise BadInput(
            f"{visible(ident)} asks {visible(old.text)!r} already: ask another one under a new name"
        )
    elif old.words != link_words_of(links):
        with_.do(make(LinkQuestion, number=number, ident=ident, **links))
    answer = str(told.get("answer", ""))
    if answer and (old is None or old.answer != answer):
        with_.do(make(AnswerQuestion, number=number, ident=ident, answer=answer))
    elif old is not None and old.answer and not answer:
        raise BadInput(f"{visible(ident)} is answered; an answer is changed by another one, not taken out")


def link_words_of(links: Mapping[str, Any]) -> str:
    """What hangs on a question, as its words."""
    from ledger.domain.record import Question

    return Question("", "", "", links["holds_up"], links["depends_on"], links["needed_by"]).words


def _newest(facts: Session, number: str) -> Any:
    from ledger.acts.base import newest_part

    return newest_part(facts, number)


def _remover(what: str) -> Callable[[Tools, str, str], object]:
    def remove(with_: Tools, number: str, name: str) -> None:
        with_.do(make(RemoveOfPart, number=number, what=what, name=name, reason=REASON))

    return remove


def _points(part: Part) -> Records:
    found: Records = {}
    for one in part.points:
        fields = {
            "label": one.label,
            "diameter": one.diameter.written if one.diameter else "",
            "side": str(one.side or ""),
            "instrument": one.instrument,
            "at": tuple(v.written for v in one.at),
            "uncertainty": one.uncertainty.written if one.uncertainty else "",
        }
        told = in_a_line(point_words(one), point_line, fields)
        found[one.label] = without(behind(told, one.label), "label")
        if isinstance(told, str):
            found[one.label] = told.removeprefix(one.label).lstrip(", ")
    return found


def _enter_point(with_: Tools, number: str, label: str, told: Told) -> None:
    start = f"{label} " if isinstance(told, str) and told.startswith("at ") else f"{label}, "
    fields = {**fields_of(told, point_line, start if told else label), "label": label}
    with_.do(point_act(with_.facts, with_.day, number=number, **fields))


def _distances(part: Part) -> Records:
    found: Records = {}
    for one in part.distances:
        between = f"{one.a} {one.b}"
        found[between] = distance_words(one).removeprefix(f"{between} ")
    return found


def _enter_distance(with_: Tools, number: str, between: str, told: Told) -> None:
    if not isinstance(told, str):
        raise BadInput("expected the readings and the instrument as a text, such as '1532 1533 mm tape'")
    fields = distance_line(f"{between} {told}").fields
    if "reading" not in fields:
        raise BadInput("expected the readings and the instrument, such as '1532 1533 mm tape'")
    with_.do(distance_act(with_.facts, with_.day, number=number, **fields))


def _remove_distance(with_: Tools, number: str, between: str) -> None:
    a, _, b = between.partition(" ")
    with_.do(make(RemoveDistance, number=number, a=a, b=b, reason=REASON))


def holes_told(facts: Session, part: Part) -> Records:
    """The measured and given holes of a part as they were written; not those that distances place."""
    found: Records = {}
    for row in read.rows(facts, MeasuredHoleFact, number=part.number, revision=part.revision):
        said = as_written(row)
        fields = {n: str(said[n] or "") for n in ("x", "y", "diameter", "uncertainty", "source")}
        sure = f", ±{fields['uncertainty']}" if fields["uncertainty"] else ""
        line = f"{row.label} = {fields['x']}, {fields['y']}, {fields['diameter']}{sure}, {fields['source']}"
        told = in_a_line(line, hole_line, {"label": row.label, **fields})
        found[row.label] = without(behind(told, f"{row.label} = "), "label")
    return found


def _enter_hole(with_: Tools, number: str, label: str, told: Told) -> None:
    fields = {**fields_of(told, hole_line, f"{label} = "), "label": label}
    with_.do(make(RecordHole, number=number, **fields))


def _remove_bend(with_: Tools, number: str, label: str) -> None:
    with_.do(make(RemoveBend, number=number, label=label, reason=REASON))


OF_PART: Final[Sequence[Kind]] = (
    Kind("holes", "part", "hole", lambda _part: {}, _enter_hole, _remover("hole"), _is_measured,
         "150 mm, -20 mm, 16 mm, ±0.5 mm, measured"),
    Kind("points", "part", "point", _points, _enter_point, _remover("point"), always, "12 mm, left of P1 P2"),
    Kind("distances", "part", "distance", _distances, _enter_distance, _remove_distance, always,
         "1532 1533 mm tape"),
    Kind("groups", "part", "hole group", _groups, _enter_group, _remover("group"), sample="H1 H2 H3 H4"),
    Kind("operations", "part", "operation of", _operations, _enter_operation, _remover("operation"),
         sample="tapped M8"),
    Kind("bends", "part", "bend", _bends, _enter_bend, _remove_bend, sample="90 deg up, R 3 mm, K 0.44"),
    Kind("dimensions", "part", "dimension", _dimensions, _enter_dimension, _remover("dimension"), _is_measured,
         "200 mm ±0.2, on width"),
    Kind("questions", "part", "question", _questions, _enter_question, sample="which face is up?"),
)  # fmt: skip
