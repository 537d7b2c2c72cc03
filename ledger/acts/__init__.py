"""
The acts: everything people can do to a shop, one small frozen model each.

Kinds are versioned. An old version stays readable for ever; a kind that is not known here was written by a newer
program, and this one then reads only what it knows how to apply: nothing.
"""

from __future__ import annotations

from typing import Any

from ledger.acts import (
    bends,
    dimensions,
    dropping,
    instruments,
    keys,
    mates,
    parts,
    questions,
    release,
    survey,
    taking_back,
)
from ledger.acts.base import Act
from ledger.domain.errors import NewerProgram

ACTS: dict[tuple[str, int], type[Act]] = {
    (cls.model_fields["kind"].default, cls.model_fields["version"].default): cls
    for cls in (
        parts.RecordPart,
        parts.ChangePart,
        parts.NewRevision,
        parts.TakeProfile,
        parts.RecordHole,
        parts.FinishHole,
        parts.NameGroup,
        dimensions.RecordDimension,
        dimensions.CalculateDimension,
        dropping.DropOfPart,
        dropping.DropClearance,
        questions.AskQuestion,
        questions.AnswerQuestion,
        bends.RecordBend,
        bends.DropBend,
        bends.ReferGroup,
        bends.StateFolding,
        questions.LinkQuestion,
        instruments.RecordInstrument,
        survey.RecordPoint,
        survey.RecordDistance,
        survey.DropDistance,
        mates.DeclareMate,
        mates.DropMate,
        mates.StateBolt,
        mates.RequireClearance,
        mates.RecordClearance,
        mates.FreezeFace,
        release.OpenShop,
        release.SetPolicy,
        release.EnrolPerson,
        keys.ChangeKey,
        release.SignOff,
        release.Permit,
        release.Lock,
        release.KeepPacket,
        taking_back.TakeBack,
    )
}


def read_act(data: dict[str, Any]) -> Act:
    """The act that a journal body holds. Raises NewerProgram where a newer program wrote it."""
    cls = ACTS.get((data.get("kind", ""), data.get("version", 0)))
    if cls is None:
        raise NewerProgram(
            f"an entry of kind {data.get('kind')!r} was written by a newer program: update this one"
        )
    return cls.model_validate(data)
