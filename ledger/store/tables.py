"""
The tables of a job. Only *journal* and *kept file* are permanent; the rest are facts, rebuilt from the journal.

A quantity has two columns: as written, and exactly (`ledger.store.exact`). Nothing here is a float. Lists are JSON
text.
"""

from __future__ import annotations

from functools import cache
from typing import Any, ClassVar, Final, Literal

from sqlalchemy import MetaData
from sqlmodel import Field, SQLModel

_GIVEN = {"autoincrement": False}  # a number that the program gives; a server would make a sequence for it


class Permanent(SQLModel):
    """Base of the two tables that are never dropped."""

    metadata = MetaData()


class JournalRow(Permanent, table=True):
    __tablename__ = "journal"
    seq: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    previous: str = Field(unique=True)
    body: bytes
    hash: str = Field(unique=True)
    signature: str


class KeptFileRow(Permanent, table=True):
    __tablename__ = "kept_file"
    sha256: str = Field(primary_key=True)
    data: bytes


About = Literal[
    "part",
    "connection",
    "vendor",
    "instrument",
    "file names",
    "hardware",
    "order",
    "schedule",
    "piece",
    "folders",
    "evidence",
]
Concern = tuple[About, str]  # what something is about, and the column or field that names it
OF_PART: Final[Concern] = ("part", "number")
OF_CONNECTION: Final[Concern] = ("connection", "connection")


class Fact(SQLModel):
    """Base of every table that replay rebuilds; what its rows are of, where an act about that can be undone."""

    metadata = MetaData()
    concerns: ClassVar[Concern | None] = None

    def __init__(self, **values: Any) -> None:
        """
        A row of these values, and of the defaults of all others.

        What SQLModel does for a row, at once and not column by column: replay makes rows by the hundred thousand.
        """
        kind = type(self)
        self.__dict__.update(_defaults(kind), **values)
        as_pydantic_has_it(self, kind)


def as_pydantic_has_it(row: SQLModel, kind: type[SQLModel]) -> None:
    """Beside its values, which are all there, what a model has in it."""
    object.__setattr__(row, "__pydantic_fields_set__", _names(kind))
    object.__setattr__(row, "__pydantic_extra__", None)
    object.__setattr__(row, "__pydantic_private__", None)


@cache
def _names(table: type[SQLModel]) -> set[str]:
    return set(table.model_fields)


@cache
def _defaults(table: type[SQLModel]) -> dict[str, Any]:
    return {name: field.default for name, field in table.model_fields.items() if not field.is_required()}


class OfRevision(Fact):
    """Base of what is known of one revision of a part: a new revision starts with a copy of it."""

    concerns = OF_PART
    number: str = Field(primary_key=True)
    revision: str = Field(primary_key=True)


class JobFact(Fact, table=True):
    __tablename__ = "fact_job"
    ident: str = Field(primary_key=True)
    firm: str
    roles: str
    raised: str = "[]"
    odds: str = "99"
    permits: str = '["checked", "approved"]'
    root: str = ""


class FileNamesFact(Fact, table=True):
    """How the file names of drawings read."""

    __tablename__ = "fact_file_names"
    concerns = ("file names", "of")
    of: str = Field(primary_key=True)
    pattern: str


class DrawingFoldersFact(Fact, table=True):
    """The folders that drawings were taken from, as a JSON list."""

    __tablename__ = "fact_drawing_folders"
    concerns = ("folders", "of")
    of: str = Field(primary_key=True)
    folders: str


class StampFact(Fact, table=True):
    """
    Which program's tables these are, the last row of the journal that was read for them, and the entry that stopped
    them because it was not allowed (0: none).
    """

    __tablename__ = "fact_stamp"
    ident: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    schema_digest: str
    seq: int
    seal: str
    writer: str
    stopped: int = 0
    stopped_kind: str = ""
    reason: str = ""


class PersonFact(Fact, table=True):
    __tablename__ = "fact_person"
    name: str = Field(primary_key=True)
    key: str
    roles: str
    retired: int = 0


class KeyFact(Fact, table=True):
    """
    A key: whose, known since which entry, and the first entry it no longer counts for (0: in force).

    `added_with` is the key that made it known was signed with; none for the founder's first.
    """

    __tablename__ = "fact_key"
    key: str = Field(primary_key=True)
    person: str
    since: int
    until: int = 0
    retired: int = 0
    reason: str = ""
    added_with: str = ""


class PartFact(Fact, table=True):
    __tablename__ = "fact_part"
    concerns = OF_PART
    number: str = Field(primary_key=True)
    revision: str = Field(primary_key=True)
    place: int
    title: str
    form: str
    hand: str = "either"
    opposite_of: str = ""
    material: str = ""
    thickness: str = ""
    thickness_exact: str = ""
    coating: str = ""
    coating_thickness: str = ""
    coating_thickness_exact: str = ""
    process: str = ""
    quantity: int | None = None
    unconnected: bool = False
    note: str = ""
    etched: str = ""
    masked: str = ""
    masked_exact: str = ""
    density: str = ""
    density_exact: str = ""
    per_assembly: int | None = None
    assemblies: int | None = None
    spares: int | None = None
    said: str = "{}"  # the fields that no rule reads, as JSON
    reason: str = ""
    locked: bool = False


class ProfileFact(OfRevision, table=True):
    __tablename__ = "fact_profile"
    file_name: str
    dxf: str
    geometry_file: str
    geometry: str
    unit: str
    unit_stated: bool
    reader: str
    lost_labels: str
    vendor: str = ""
    likeness: str = ""
    roles: str = "{}"
    seq: int = 0


class MeasuredHoleFact(OfRevision, table=True):
    __tablename__ = "fact_measured_hole"
    label: str = Field(primary_key=True)
    x: str
    x_exact: str = ""
    y: str
    y_exact: str = ""
    diameter: str
    diameter_exact: str = ""
    uncertainty: str
    uncertainty_exact: str = ""
    source: str


class InstrumentFact(Fact, table=True):
    """One calibration of an instrument of the job's own."""

    __tablename__ = "fact_instrument"
    concerns = ("instrument", "name")
    name: str = Field(primary_key=True)
    calibrated: str = Field(primary_key=True)
    tool: str
    resolution: str
    resolution_exact: str = ""
    standard: str
    standard_exact: str = ""
    limit: str
    limit_exact: str = ""
    grade: str
    due: str


class PointFact(OfRevision, table=True):
    __tablename__ = "fact_point"
    label: str = Field(primary_key=True)
    place: int
    diameter: str
    diameter_exact: str = ""
    at: str
    uncertainty: str
    uncertainty_exact: str = ""
    side: str
    side_exact: str = ""
    instrument: str = ""
    day: str = ""


class DistanceFact(OfRevision, table=True):
    __tablename__ = "fact_distance"
    a: str = Field(primary_key=True)
    b: str = Field(primary_key=True)
    value: str
    value_exact: str = ""
    standard: str
    standard_exact: str = ""
    uncertainty: str
    uncertainty_exact: str = ""
    instrument: str
    readings: str
    how: str
    day: str = ""


class OperationFact(OfRevision, table=True):
    __tablename__ = "fact_operation"
    label: str = Field(primary_key=True)
    operation: str
    thread: str


class TrialFact(OfRevision, table=True):
    """What came of a paper template of a drawing."""

    __tablename__ = "fact_trial"
    place: int = Field(primary_key=True)
    result: str
    note: str
    by: str
    day: str
    geometry: str


class BendFact(OfRevision, table=True):
    __tablename__ = "fact_bend"
    label: str = Field(primary_key=True)
    line: str
    angle: str
    direction: str
    radius: str = ""
    radius_exact: str = ""
    k_factor: str = ""
    allowance: str = ""
    allowance_exact: str = ""
    deduction: str = ""
    deduction_exact: str = ""
    tolerance: str = ""
    tolerance_exact: str = ""


class BendDataFact(Fact, table=True):
    """Each statement stays: a locked revision keeps what was said before its lock."""

    __tablename__ = "fact_bend_data"
    concerns = ("vendor", "vendor")
    seq: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    vendor: str
    material: str
    thickness: str
    thickness_exact: str = ""
    radius: str
    radius_exact: str = ""
    k_factor: str


class VendorFact(Fact, table=True):
    __tablename__ = "fact_vendor"
    concerns = ("vendor", "name")
    name: str = Field(primary_key=True)
    processes: str = "[]"
    lead_days: int | None = None
    weekdays: str = "[]"
    days_off: str = "[]"


class FeatureFact(Fact, table=True):
    __tablename__ = "fact_feature"
    concerns = ("piece", "part")
    part: str = Field(primary_key=True)
    piece: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    name: str = Field(primary_key=True)
    value: str = ""
    value_exact: str = ""
    x: str = ""
    x_exact: str = ""
    y: str = ""
    y_exact: str = ""
    uncertainty: str
    uncertainty_exact: str
    instrument: str
    coated: bool = False
    by: str
    day: str


class JobDayFact(Fact, table=True):
    __tablename__ = "fact_job_day"
    concerns = ("schedule", "of")
    of: str = Field(primary_key=True)
    day: str


class WaitFact(Fact, table=True):
    __tablename__ = "fact_wait"
    concerns = OF_PART
    number: str = Field(primary_key=True)
    after: str


class OrderFact(Fact, table=True):
    __tablename__ = "fact_order"
    concerns = ("order", "ident")
    ident: str = Field(primary_key=True)
    vendor: str
    sent: str
    due: str
    reference: str = ""
    price: str = ""
    canceled: str = ""


class OrderLineFact(Fact, table=True):
    __tablename__ = "fact_order_line"
    concerns = ("order", "ident")
    ident: str = Field(primary_key=True)
    part: str = Field(primary_key=True)
    place: int
    part_revision: str
    quantity: int


class ReceiptFact(Fact, table=True):
    __tablename__ = "fact_receipt"
    concerns = ("order", "ident")
    seq: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    part: str = Field(primary_key=True)
    ident: str
    part_revision: str
    count: int
    first: int
    day: str
    state: str
    by: str


class EvidenceFact(Fact, table=True):
    __tablename__ = "fact_evidence"
    concerns = ("evidence", "address")
    address: str = Field(primary_key=True)
    sha256: str = Field(primary_key=True)
    to: str
    owner: str
    name: str
    file_name: str
    size: int
    by: str
    day: str


class OnHandFact(Fact, table=True):
    __tablename__ = "fact_on_hand"
    concerns = ("hardware", "item")
    item: str = Field(primary_key=True)
    size: str = Field(primary_key=True)
    length_mm: str = Field(primary_key=True)
    length: str = ""
    length_exact: str = ""
    count: int


class GroupFact(OfRevision, table=True):
    __tablename__ = "fact_group"
    name: str = Field(primary_key=True)
    labels: str


class GroupReferenceFact(OfRevision, table=True):
    __tablename__ = "fact_group_reference"
    name: str = Field(primary_key=True)
    reference: str


class DimensionFact(OfRevision, table=True):
    __tablename__ = "fact_dimension"
    name: str = Field(primary_key=True)
    nominal: str
    nominal_exact: str = ""
    limits: str
    limits_exact: str = ""
    source: str
    instrument: str
    uncertainty: str
    uncertainty_exact: str = ""
    measured_on: str
    measured_on_exact: str = ""
    frozen: bool
    critical: bool
    frozen_value: str = ""
    frozen_value_exact: str = ""
    formula: str = ""
    formula_exact: str = ""
    how: str = ""
    day: str = ""


class QuestionFact(Fact, table=True):
    __tablename__ = "fact_question"
    concerns = OF_PART
    number: str = Field(primary_key=True)
    ident: str = Field(primary_key=True)
    text: str
    answer: str = ""
    holds_up: str = "[]"
    depends_on: str = "[]"
    needed_by: str = ""


class ConnectionFact(Fact, table=True):
    __tablename__ = "fact_connection"
    concerns = ("connection", "name")
    name: str = Field(primary_key=True)
    kind: str
    joint: str
    fastener: str
    turned_over: str
    position: str
    position_exact: str = ""
    gap: str
    gap_exact: str = ""
    also: str
    weld_side: str = ""
    weld_class: str = ""
    holes_made: str = ""


class BoltFact(Fact, table=True):
    __tablename__ = "fact_bolt"
    concerns = OF_CONNECTION
    connection: str = Field(primary_key=True)
    length: str = ""
    length_exact: str = ""
    washers: int | None = None


class PlyFact(Fact, table=True):
    __tablename__ = "fact_ply"
    concerns = OF_CONNECTION
    connection: str = Field(primary_key=True)
    place: int = Field(primary_key=True)
    part: str
    group_name: str
    face_up: str


class ClearanceFact(Fact, table=True):
    __tablename__ = "fact_clearance"
    concerns = OF_CONNECTION
    connection: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    required: str
    required_exact: str = ""
    critical: bool


class ReadingFact(Fact, table=True):
    __tablename__ = "fact_reading"
    concerns = OF_CONNECTION
    connection: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    seq: int = Field(primary_key=True)
    value: str
    value_exact: str = ""
    uncertainty: str
    uncertainty_exact: str = ""
    instrument: str
    person: str
    day: str
    against: str
    how: str = ""


class FrozenInterfaceFact(Fact, table=True):
    __tablename__ = "fact_frozen_interface"
    concerns = OF_CONNECTION
    connection: str = Field(primary_key=True)
    part: str = Field(primary_key=True)
    interface: str


class SignatureFact(Fact, table=True):
    __tablename__ = "fact_signature"
    seq: int = Field(primary_key=True)
    number: str = Field(primary_key=True)
    revision: str
    subject: str
    role: str
    person: str
    self_check: bool
    acknowledged: str


class PermitFact(Fact, table=True):
    """A row for each of the `parts` ([number, revision]) that a permit names; several are those of a connection."""

    __tablename__ = "fact_permit"
    seq: int = Field(primary_key=True)
    number: str = Field(primary_key=True)
    revision: str
    code: str
    place: str
    reason: str
    until: str
    person: str
    up_to: str = ""
    up_to_exact: str = ""
    above: bool = False
    connection: str = ""
    parts: str = "[]"


class NonceFact(Fact, table=True):
    __tablename__ = "fact_nonce"
    nonce: str = Field(primary_key=True)
    seq: int


class LockFact(Fact, table=True):
    __tablename__ = "fact_lock"
    number: str = Field(primary_key=True)
    revision: str = Field(primary_key=True)
    seq: int
    subject: str
    verdict: str
    dxf: str
    dxf_name: str
    record: str
    person: str


class PacketFact(Fact, table=True):
    __tablename__ = "fact_packet"
    lock_seq: int = Field(primary_key=True, sa_column_kwargs=_GIVEN)
    sha256: str
    file_name: str
    contents: str


OF_REVISION: tuple[type[OfRevision], ...] = tuple(OfRevision.__subclasses__())
FACTS: tuple[type[Fact], ...] = (
    *(table for table in Fact.__subclasses__() if table not in (OfRevision, StampFact)),
    *OF_REVISION,
)
