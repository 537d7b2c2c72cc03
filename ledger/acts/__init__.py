"""
The acts: everything people can do to a job, one small frozen model each.

Kinds are versioned. An old version stays readable for ever; a kind that is not known here was written by a newer
program, and this one then reads only what it knows how to apply: nothing.
"""

from __future__ import annotations

from typing import Any

from ledger.acts import (
    bends,
    connections,
    dimensions,
    drawing_folders,
    file_names,
    hardware,
    instruments,
    keys,
    orders,
    parts,
    people,
    permits,
    pieces,
    questions,
    release,
    removal,
    schedule,
    survey,
    trials,
    undo,
    vendors,
)
from ledger.acts.base import Act
from ledger.acts.bodies import restored
from ledger.domain.errors import NewerProgram

ACTS: dict[tuple[str, int], type[Act]] = {
    (cls.model_fields["kind"].default, cls.model_fields["version"].default): cls
    for cls in (
        parts.RecordPart,
        parts.ChangePart,
        parts.NewRevision,
        parts.TakeProfile,
        parts.RecordHole,
        parts.RecordOperation,
        parts.NameGroup,
        dimensions.RecordDimension,
        dimensions.CalculateDimension,
        removal.RemoveOfPart,
        removal.RemoveClearance,
        trials.RecordTrial,
        questions.AskQuestion,
        questions.AnswerQuestion,
        bends.RecordBend,
        bends.RemoveBend,
        bends.ReferGroup,
        bends.RecordBendData,
        questions.LinkQuestion,
        instruments.RecordInstrument,
        survey.RecordPoint,
        survey.RecordDistance,
        survey.RemoveDistance,
        connections.RecordConnection,
        connections.RemoveConnection,
        connections.RecordBolt,
        connections.RequireClearance,
        connections.RecordClearance,
        connections.FreezeInterface,
        release.OpenJob,
        release.SetPolicy,
        drawing_folders.RecordDrawingFolders,
        file_names.RecordFileNames,
        people.EnrollPerson,
        people.ChangeRoles,
        keys.ChangeKey,
        release.SignRevision,
        permits.Permit,
        permits.WithdrawPermit,
        release.Lock,
        release.KeepPacket,
        vendors.RecordVendor,
        hardware.RecordOnHand,
        orders.RecordOrder,
        orders.CancelOrder,
        orders.RecordReceipt,
        schedule.RecordDay,
        schedule.RecordWait,
        pieces.MeasurePiece,
        undo.Undo,
    )
}


def read_act(data: dict[str, Any]) -> Act:
    """The act that a journal body holds, as it was checked then. Raises NewerProgram, or ValueError for its shape."""
    cls = ACTS.get((data.get("kind", ""), data.get("version", 0)))
    if cls is None:
        raise NewerProgram(
            f"an entry of kind {data.get('kind')!r} was written by a newer program: update this one"
        )
    return restored(cls, data)


def act_named(name: str) -> type[Act]:
    """The newest version of an act by the name of its class, `RecordHole`. Raises KeyError."""
    return {cls.__name__: cls for _, cls in sorted(ACTS.items(), key=lambda known: known[0])}[name]
