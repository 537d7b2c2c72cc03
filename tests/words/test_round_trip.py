# ruff: noqa: PLR0917 - one argument for each part of a record
"""A record written as its line and read again is the same record, whatever its names and values are."""

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.amounts import read_amount
from ledger.domain.bend import Bend
from ledger.domain.calibration import Calibration
from ledger.domain.connection import (
    CONNECTION_KINDS,
    HOLES_MADE,
    JOINTS,
    WELD_SIDES,
    Also,
    Clearance,
    Connection,
    Ply,
)
from ledger.domain.measured_on import read_measured_on
from ledger.domain.quantity import plain, read_bounds, read_length
from ledger.domain.record import (
    FORMS,
    LAYER_ROLES,
    OPERATIONS,
    ROLES,
    SOURCES,
    Dimension,
    HoleGroup,
    MeasuredHole,
    Part,
    Question,
    SitePoint,
)
from ledger.domain.shape import Hole
from ledger.standards.size_limits import limits_of
from ledger.standards.weld_classes import CLASSES
from ledger.words import (
    bends,
    bolts,
    clearances,
    connections,
    dimensions,
    groups,
    holes,
    instruments,
    layers,
    operations,
    parts,
    people,
    permits,
    points,
    questions,
)

LABELS = st.sampled_from(["H1", "H12", "S1", "P3", "B1", "K7", "top", "É2"])
WORDS = st.sampled_from(
    ["ARM", "L", "bolts", "top", "bottom", "edge", "feet", "3", "w", "M6", "critical", "Ständer"]
)
NAMES = st.lists(WORDS, min_size=1, max_size=3).map(" ".join)
UNITS = st.sampled_from(["mm", "in", "cm", "m"])
ABOVE = st.decimals("0.001", "900", places=3).filter(lambda v: v > 0)
LENGTHS = st.builds(lambda v, u: read_length(f"{plain(v)} {u}"), ABOVE, UNITS) | st.sampled_from(
    [read_length("3/16 in"), read_length("1-1/2 in"), read_length(".250 in")]
)
SIGNED = st.builds(
    lambda v, u: read_length(f"{plain(v)} {u}", signed=True), st.decimals("-999", "999", places=2), UNITS
)
DAYS = st.dates(date(2020, 1, 1), date(2026, 1, 1)).map(date.isoformat)
TEXT = st.text("abc dé?!'()/", min_size=1).map(lambda t: " ".join(t.split())).filter(bool)
BOUNDS = st.sampled_from([">= 3 mm", "2..5 mm", "<= 1/8 in", "0..1.5 mm"]).map(read_bounds)
INSTRUMENTS = st.sampled_from(["caliper", "2 m tape", "caliper 7", "feeler"])


def maybe(what):
    return st.none() | what


def _dimension(nominal, limits, source, tool, sure, on, frozen, critical):
    value = read_amount(nominal)
    angle = "deg" in nominal
    limits = {"two sizes": "199.9..200.3 mm", "fit": "H7", "general": "ISO 2768-m"}.get(limits, limits)
    limits = limits if nominal == "200 mm" or limits[:1] in "±+m" else ""
    measured = {"instrument": tool, "uncertainty": read_amount("0.5 deg") if angle else sure}
    with_tool = measured if source == "measured" else {}
    calculated = {"formula": "[arm L]/2 + 3/16 in"} if source == "calculated" else {}
    return Dimension(
        "w 1", value, limits_of(limits, value) if limits else None, source, measured_on=read_measured_on(on),
        frozen=frozen, critical=critical, **with_tool, **calculated,
    )  # fmt: skip


DIMENSIONS = st.builds(
    _dimension,
    st.sampled_from(["200 mm", "5/16 in", "37.5 deg"]),
    st.sampled_from(["", "±0.1", "+0.2/-0.1", "min", "max", "two sizes", "fit", "general"]),
    st.sampled_from(SOURCES),
    INSTRUMENTS,
    maybe(LENGTHS),
    st.sampled_from(["", "width", "distance H1 H2", "leg B1 H1"]),
    st.booleans(),
    st.booleans(),
)


@given(DIMENSIONS)
def test_of_a_dimension(d):
    expected = {
        "name": d.name,
        "nominal": d.formula or d.nominal.written,
        "limits": d.limits.written if d.limits else "",
        "source": d.source,
        "instrument": d.instrument,
        "uncertainty": d.uncertainty.written if d.uncertainty else "",
        "measured_on": str(d.measured_on or ""),
        "frozen": d.frozen,
        "critical": d.critical,
    }
    line = dimensions.dimension_words(d)
    assert dimensions.dimension_line(line).fields == expected
    assert dimensions.dimension_line(line, d).fields == expected  # edited as it stands, nothing changes


@given(NAMES, BOUNDS, st.booleans())
def test_of_a_clearance(name, required, critical):
    made = clearances.clearance_line(clearances.clearance_words(Clearance(name, required, critical))).fields
    assert made == {"name": name, "required": required.written, "critical": critical}


@given(NAMES, st.lists(LABELS, min_size=1, unique=True).map(tuple), st.just("") | NAMES)
def test_of_a_group(name, labels, reference):
    made = groups.group_line(groups.group_words(HoleGroup(name, labels, reference))).fields
    assert made == {"name": name, "labels": labels, "reference": reference}


@given(WORDS, st.sampled_from(FORMS), st.just("") | TEXT)
def test_of_a_part(number, form, title):
    made = parts.part_line(parts.part_words(Part(number, "A", title, form))).fields
    assert made == {"number": number, "form": form, "title": title}


@given(st.lists(LABELS, min_size=1, unique=True).map(tuple), st.sampled_from(OPERATIONS))
def test_of_an_operation(labels, operation):
    thread = "M8" if operation in ("tapped", "captive nut") else ""
    made = operations.operation_line(operations.operation_words(labels, operation, thread)).fields
    assert made == {"labels": labels, "operation": operation, "thread": thread}


@given(
    st.decimals("0.1", "179", places=1).filter(lambda v: v > 0),
    st.sampled_from(["up", "down"]),
    maybe(LENGTHS),
    st.sampled_from(["", "k_factor", "allowance", "deduction"]),
    LENGTHS,
    maybe(LENGTHS),
)
def test_of_a_bend(angle, direction, radius, how, length, tolerance):
    more = {how: Decimal("0.44") if how == "k_factor" else length} if how else {}
    bend = Bend("B1", ((0.0, 0.0), (1.0, 0.0)), angle, direction, radius=radius, tolerance=tolerance, **more)
    expected = {"labels": ("B1",), "direction": direction}
    expected |= {n: v.written for n, v in (("radius", radius), ("tolerance", tolerance)) if v}
    expected |= {how: "0.44" if how == "k_factor" else length.written} if how else {}
    made = bends.bend_line(bends.bend_of_part_words(bend)).fields
    assert Decimal(made.pop("angle").removesuffix("deg").strip()) == angle
    assert made == expected


@given(NAMES, NAMES, LENGTHS, maybe(LENGTHS), st.sampled_from(["", "0.44", "0.5"]))
def test_of_bend_data(vendor, material, thickness, radius, k):
    row = {"vendor": vendor, "material": material, "thickness": thickness.written}
    radius = radius or (None if k else read_length("3 mm"))
    row |= {"radius": radius.written if radius else "", "k_factor": k}
    assert bends.bend_data_line(bends.bend_data_words(row)).fields == row


@given(st.dictionaries(NAMES, st.sampled_from(LAYER_ROLES), min_size=1), st.just("") | NAMES)
def test_of_layers(roles, vendor):
    made = layers.layers_line(layers.layers_words(tuple(roles.items()), vendor)).fields
    assert made == {"roles": roles, "vendor": vendor}


@given(NAMES, SIGNED, SIGNED, LENGTHS, maybe(LENGTHS), st.sampled_from(SOURCES))
def test_of_a_hole(label, x, y, size, sure, source):
    sure = sure or (read_length("0.5 mm") if source == "measured" else None)
    old = MeasuredHole(Hole(label, ((float(x.mm), float(y.mm)),), float(size.mm)), sure, source)
    made = holes.hole_line(holes.hole_words(old)).fields
    centre = tuple(float(read_length(made[n], signed=True).mm) for n in ("x", "y"))
    read = Hole(made["label"], (centre,), float(read_length(made["diameter"]).mm))
    again = MeasuredHole(
        read, read_length(made["uncertainty"]) if made["uncertainty"] else None, made["source"]
    )
    assert again == old


@given(
    LABELS, maybe(LENGTHS), st.lists(SIGNED, min_size=2, max_size=3).map(tuple), maybe(LENGTHS),
    st.sampled_from(["", "left of P1 P2", "right of P1 P2"]), st.just("") | INSTRUMENTS, st.booleans(),
)  # fmt: skip
def test_of_a_point(label, diameter, at, sure, side, tool, placed):
    old = SitePoint(label, diameter, at if placed else (), sure if placed else None, side, tool)
    assert points.point_line(points.point_words(old)).fields == {
        "label": label,
        "diameter": diameter.written if diameter else "",
        "side": side,
        "instrument": tool,
        "at": tuple(v.written for v in old.at),
        "uncertainty": old.uncertainty.written if old.uncertainty else "",
    }


@given(
    TEXT, st.lists(NAMES, max_size=2).map(tuple), st.lists(NAMES, max_size=2).map(tuple), st.just("") | DAYS
)
def test_of_a_question(text, holds_up, depends_on, needed_by):
    old = Question("Q1", text, "", holds_up, depends_on, needed_by)
    links = {"holds_up": holds_up, "depends_on": depends_on, "needed_by": needed_by}
    assert questions.question_line(questions.question_words(old)).fields == {"text": text, **links}
    assert questions.link_line(questions.link_words(old)).fields == links


@given(
    NAMES, st.sampled_from(["caliper", "tape", "feeler gauge"]), DAYS, st.integers(1, 120),
    st.sampled_from(["", "standard", "limit", "grade"]), LENGTHS, st.booleans(),
)  # fmt: skip
def test_of_an_instrument(name, tool, calibrated, months, how, length, read_to):
    said = dict.fromkeys(("resolution", "standard", "limit", "grade"), "")
    said |= {how: "II" if how == "grade" else length.written} if how else {}
    said |= {"resolution": "0.01 mm"} if read_to else {}
    start = date.fromisoformat(calibrated)
    after = start.month - 1 + months
    due = date(start.year + after // 12, after % 12 + 1, 1) + timedelta(days=min(start.day, 28) - 1)
    old = Calibration(name=name, calibrated=calibrated, tool=tool, due=due.isoformat(), **said)
    made = instruments.instrument_line(instruments.instrument_words(old), "2026-12-01").fields
    assert made == {"name": name, "tool": tool, "calibrated": calibrated, "months": months, **said}


@st.composite
def _connections(draw):
    kind = draw(st.sampled_from(CONNECTION_KINDS))
    bolted = kind == "bolted"
    numbers = draw(st.lists(NAMES, min_size=2, max_size=3, unique=True))
    faces = st.sampled_from(["top", "bottom", "edge", "feet", "upper face"])
    plies = tuple(Ply(n, draw(st.just("") | NAMES), draw(faces)) for n in numbers)
    also = Also("M6", "dowel", tuple(draw(NAMES) for _ in numbers))
    gap = draw(maybe(BOUNDS)) if not bolted else None
    position = draw(st.sampled_from(["", "as drawn", "10 -20 90", "10, -20, 90", "pins", "left on left"]))
    return Connection(
        draw(NAMES), kind, plies,
        joint=draw(st.sampled_from(JOINTS)) if bolted else "",
        fastener=draw(st.sampled_from(["M12", "1/2-13", "M20 EN 14399-3"])) if bolted else "",
        turned_over=draw(st.sampled_from(["no", "yes", "either"])),
        position_written=position,
        also=(also,) * draw(st.integers(0, 2)) if bolted else (),
        gap=gap,
        weld_side=draw(st.sampled_from(["", *WELD_SIDES])),
        weld_class=draw(st.sampled_from(["", *CLASSES])),
        holes_made=draw(st.sampled_from(["", *HOLES_MADE])),
        bolt_length=draw(maybe(LENGTHS)),
        washers=draw(maybe(st.integers(0, 4))),
    )  # fmt: skip


@given(_connections(), st.lists(NAMES))
def test_of_a_connection(connection, others):
    known = {p.part for p in connection.plies} | set(others)
    line = connections.connection_line(connections.connection_words(connection, known), known)
    assert line.fields == connections.connection_fields(connection)
    plies = [(p["part"], p["group"], p["face_up"]) for p in line.fields["plies"]]
    assert plies == [(p.part, p.group, p.face_up) for p in connection.plies]
    assert connections.fits_a_line(connection, known)


@given(_connections())
def test_of_bolts(connection):
    made = bolts.bolt_line(bolts.bolt_words(connection)).fields
    length = connection.bolt_length.written if connection.bolt_length else ""
    assert made == {"length": length, "washers": connection.washers}


@given(TEXT, st.just("") | DAYS, st.sampled_from(["", "240.5 mm", "0.3 deg"]))
def test_of_a_permit(reason, until, up_to):
    made = permits.permit_line(permits.permit_words(reason, until, up_to)).fields
    assert made == {"reason": reason, "until": until, "up_to": up_to}


@given(NAMES, st.lists(st.sampled_from(ROLES), min_size=1, unique=True).map(tuple))
def test_of_a_person(name, roles):
    assert people.person_line(people.person_words(name, roles)).fields == {"name": name, "roles": roles}
