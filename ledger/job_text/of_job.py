"""What of the job and of its connections stands in its text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.bends import RecordBendData
from ledger.acts.connections import RecordBolt, RecordConnection, RemoveConnection, RequireClearance
from ledger.acts.file_names import RecordFileNames
from ledger.acts.hardware import RecordOnHand
from ledger.acts.instruments import RecordInstrument
from ledger.acts.removal import RemoveClearance
from ledger.acts.schedule import RecordDay, RecordWait
from ledger.acts.vendors import RecordVendor
from ledger.domain.errors import BadInput
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
from ledger.store.instruments import newest_calibrations
from ledger.store.tables import (
    FileNamesFact,
    JobDayFact,
    OnHandFact,
    PartFact,
    WaitFact,
)
from ledger.store.vendors import vendors
from ledger.words.bends import bend_data_line, bend_data_words
from ledger.words.bolts import bolt_line, bolt_words
from ledger.words.clearances import clearance_line, clearance_words
from ledger.words.connections import connection_fields, connection_line, connection_words
from ledger.words.hardware import hardware_line
from ledger.words.instruments import instrument_line, instrument_words
from ledger.words.vendors import vendor_line, vendor_words


def connections_told(facts: Session) -> Records:
    """Every connection, by name."""
    parts = _numbers(facts)
    found: Records = {}
    for one in read.connections(facts):
        fields = connection_fields(one)
        told = in_a_line(connection_words(one, parts), lambda line: connection_line(line, parts), fields)
        found[one.name] = without(behind(told, f"{one.name}: "))
    return found


def _numbers(facts: Session) -> frozenset[str]:
    return frozenset(row.number for row in read.rows(facts, PartFact))


def _enter_connection(with_: Tools, _owner: str, name: str, told: Told) -> None:
    parts = _numbers(with_.facts)
    fields = fields_of(told, lambda line: connection_line(line, parts), f"{name}: ")
    with_.do(make(RecordConnection, **{**fields, "name": name}))


def _remove_connection(with_: Tools, _owner: str, name: str) -> None:
    with_.do(make(RemoveConnection, name=name, reason=REASON))


def _bolts(facts: Session) -> Records:
    return {c.name: words for c in read.connections(facts) if (words := bolt_words(c))}


def _enter_bolt(with_: Tools, _owner: str, name: str, told: Told) -> None:
    with_.do(make(RecordBolt, connection=name, **fields_of(told, bolt_line, "")))


def _remove_bolt(with_: Tools, _owner: str, name: str) -> None:
    with_.do(make(RecordBolt, connection=name))


def clearances_told(facts: Session) -> dict[str, Records]:
    """The required clearances of every connection."""
    found: dict[str, Records] = {}
    for connection in read.connections(facts):
        for one in connection.clearances:
            fields = {"name": one.name, "required": one.required.written, "critical": one.critical}
            told = in_a_line(clearance_words(one), clearance_line, fields)
            found.setdefault(connection.name, {})[one.name] = without(behind(told, f"{one.name}: "))
    return found


def _enter_clearance(with_: Tools, connection: str, name: str, told: Told) -> None:
    fields = {**fields_of(told, clearance_line, f"{name}: "), "name": name}
    with_.do(make(RequireClearance, connection=connection, **fields))


def _remove_clearance(with_: Tools, connection: str, name: str) -> None:
    with_.do(make(RemoveClearance, connection=connection, name=name, reason=REASON))


def readings_told(facts: Session) -> dict[str, Records]:
    """The newest reading of every measured clearance."""
    found: dict[str, Records] = {}
    for connection in read.connections(facts):
        for one in connection.clearances:
            if one.reading:
                found.setdefault(connection.name, {})[one.name] = one.reading.words
    return found


def _enter_reading(with_: Tools, connection: str, name: str, told: Told) -> None:
    if not isinstance(told, str):
        raise BadInput("expected a reading as a text, such as '1.8 ±0.1 mm feeler'")
    with_.measure((connection, name), told)


def _vendors(facts: Session) -> Records:
    return {v.name: vendor_words(v).removeprefix(f"{v.name}: ") for v in vendors(facts)}


def _enter_vendor(with_: Tools, _owner: str, name: str, told: Told) -> None:
    with_.do(make(RecordVendor, **{**fields_of(told, vendor_line, f"{name}: "), "name": name}))


def _instruments(facts: Session) -> Records:
    return {
        row.name: instrument_words(row).removeprefix(f"{row.name} = ") for row in newest_calibrations(facts)
    }


def _enter_instrument(with_: Tools, _owner: str, name: str, told: Told) -> None:
    fields = fields_of(told, lambda line: instrument_line(line, with_.day), f"{name} = ")
    with_.do(make(RecordInstrument, **{**fields, "name": name, "day": with_.day}))


def _bend_data(facts: Session) -> Records:
    found: Records = {}
    for row in read.bend_data(facts):
        said = {n: str(v) for n, v in as_written(row).items()}
        stock, _, rest = bend_data_words(said).removeprefix(f"{said['vendor']}: ").partition(", ")
        found[f"{said['vendor']}: {stock}"] = rest
    return found


def _enter_bend_data(with_: Tools, _owner: str, stock: str, told: Told) -> None:
    if not isinstance(told, str):
        raise BadInput("expected a text, such as 'R 3 mm, K 0.44'")
    with_.do(make(RecordBendData, **bend_data_line(f"{stock}, {told}").fields))


def _on_hand(facts: Session) -> dict[str, int]:
    found = {}
    for row in read.rows(facts, OnHandFact):
        length = f" x {row.length}" if row.length else ""
        if row.count:
            found[f"{row.item} {row.size}{length}"] = row.count
    return found


def _enter_on_hand(with_: Tools, _owner: str, item: str, told: object) -> None:
    if type(told) is not int:
        raise BadInput("expected a whole number of pieces")
    fields = hardware_line(f"{told} {item}").fields
    with_.do(make(RecordOnHand, **fields))


def _remove_on_hand(with_: Tools, _owner: str, item: str) -> None:
    _enter_on_hand(with_, "", item, 0)


def _waits(facts: Session) -> dict[str, Any]:
    rows = read.rows(facts, WaitFact)
    return {row.number: json.loads(row.after) for row in rows if json.loads(row.after)}


def _enter_wait(with_: Tools, _owner: str, number: str, told: object) -> None:
    if not isinstance(told, list) or not all(isinstance(t, str) for t in told):
        raise BadInput('expected a list of part numbers, such as ["BASE", "TURN"]')
    with_.do(make(RecordWait, number=number, after=tuple(told)))


def _remove_wait(with_: Tools, _owner: str, number: str) -> None:
    with_.do(make(RecordWait, number=number, after=()))


def day_of(facts: Session) -> str:
    """The day of the job, empty where there is none."""
    return next((row.day for row in read.rows(facts, JobDayFact)), "")


def names_of(facts: Session) -> str:
    """How file names of drawings read."""
    return next((row.pattern for row in read.rows(facts, FileNamesFact)), "")


def enter_plain(with_: Tools, name: str, value: str) -> None:
    """One of the plain keys of the job: `here_by`, `file_names`. Raises BadInput."""
    if name == "here_by":
        with_.do(make(RecordDay, day=value))
    else:
        with_.do(make(RecordFileNames, pattern=value))


OF_JOB: Final[Sequence[Kind]] = (
    Kind("vendors", "job", "vendor", _vendors, _enter_vendor, sample="laser; lead 10 days; Mon..Fri"),
    Kind("bend_data", "job", "bend data", _bend_data, _enter_bend_data, sample="R 3 mm, K 0.44"),
    Kind(
        "instruments",
        "job",
        "instrument",
        _instruments,
        _enter_instrument,
        is_reading=always,
        sample="caliper, calibrated 2026-01-31, resolution 0.01 mm",
    ),
)
AFTER_PARTS: Final[Sequence[Kind]] = (
    Kind("connections", "job", "connection", connections_told, _enter_connection, _remove_connection,
         sample="bolted M16 stud, BASE studs on PIER"),
    Kind("bolts", "job", "bolts of", _bolts, _enter_bolt, _remove_bolt, sample="40 mm, 2 washers"),
    Kind("clearances", "connection", "clearance", clearances_told, _enter_clearance, _remove_clearance,
         sample=">= 3 mm, critical"),
    Kind("readings", "connection", "reading of", readings_told, _enter_reading, is_reading=always,
         sample="1.8 ±0.1 mm feeler"),
    Kind("on_hand", "job", "on hand", _on_hand, _enter_on_hand, _remove_on_hand, sample="12"),
    Kind("after", "job", "waits of", _waits, _enter_wait, _remove_wait, sample="BASE"),
)  # fmt: skip
