"""Three parts on the same bolts and pins are declared, judged where the pins put them, drawn and shown."""

from __future__ import annotations

import re

import pytest
from bench_job import CORNERS

from ledger.acts.connections import RecordConnection
from ledger.domain.drawing import PENS
from ledger.domain.errors import BadInput
from ledger.words.connections import connection_line, connection_words

PINS = {"fastener": "M6", "joint": "dowel", "groups": ("pins", "pins", "pins")}
PLIES = tuple({"part": number, "group": "bolts"} for number in ("PAD", "SHIM", "SLAB"))
FIELDS = {"connection_kind": "bolted", "joint": "through", "fastener": "M12", "plies": PLIES}


@pytest.fixture
def stack(bench):
    """PAD and SHIM lie on SLAB; the pin holes of SHIM lie 3 mm to the left in it."""
    from ledger.acts.parts import NameGroup

    for number, pins, diameter in (("PAD", 60.0, 7.0), ("SHIM", 57.0, 7.0), ("SLAB", 60.0, 6.0)):
        drawn = [(x, y, 13.5) for x, y in CORNERS] + [(pins, 50.0, diameter), (pins + 40, 50.0, diameter)]
        bench.plate(number, _plate(drawn))
        holes = bench.job.part(number).holes
        for name, wide in (("bolts", True), ("pins", False)):
            labels = tuple(h.label for h in holes if (h.diameter_mm > 10) is wide)
            bench.do(NameGroup, number=number, name=name, labels=labels)
    return bench


def _plate(holes):
    from ledger.domain.shape import Contour, Hole
    from ledger.profile.write import write_dxf

    outline = Contour(((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 100.0, 0.0), (0.0, 100.0, 0.0)))
    return write_dxf(outline, tuple(Hole("", ((x, y),), d) for x, y, d in holes), ())


def test_pins_decide_where_the_parts_lie_and_the_bolts_of_the_one_that_they_move_do_not_go_in(stack):
    stack.do(RecordConnection, name="STACK", **FIELDS)
    assert stack.job.connection_view("STACK").laid
    assert "fits" in {f.code for f in stack.job.connection_view("STACK").findings}, "free, the bolts go in"
    stack.do(RecordConnection, name="STACK", **FIELDS, also=(PINS,), position="pins")
    view = stack.job.connection_view("STACK")
    wrong = [f.where for f in view.findings if f.code == "offset"]
    assert len(wrong) == 4
    assert all(where.startswith("STACK/SHIM/") for where in wrong)
    assert {line.role for line in view.drawing.lines} == {"upper", "between", "lower"}
    assert sorted({round(x) for x, _ in view.in_the_way}) == sorted(
        {round(x) for x, _ in CORNERS} | {round(x) + 3 for x, _ in CORNERS}
    )
    assert stack.job.verify() == ()


def test_a_stack_is_drawn_with_every_part_where_it_lies(stack):
    stack.do(RecordConnection, name="STACK", **FIELDS, position="as drawn")
    drawn = stack.job.picture("STACK", "svg").decode()
    shim = re.findall(f'stroke="{PENS["between"].color}" [^>]*stroke-dasharray', drawn)
    assert len(shim) == 7, "an outline and six holes of SHIM"
    assert stack.job.picture("STACK", "png").startswith(b"\x89PNG")


def test_what_would_leave_a_part_free_is_refused_and_free_plies_are_fitted_with_their_pins(stack):
    with pytest.raises(BadInput, match="names 2 hole groups, and the connection has 3 parts"):
        stack.do(RecordConnection, name="STACK", **FIELDS, also=({**PINS, "groups": ("pins", "pins")},))
    with pytest.raises(BadInput, match="one flush side"):
        stack.do(RecordConnection, name="STACK", **FIELDS, position="left on left")
    with pytest.raises(BadInput, match="group bolts of SHIM is named for two fasteners"):
        stack.do(
            RecordConnection, name="STACK", **FIELDS, also=({**PINS, "groups": ("pins", "bolts", "pins")},)
        )
    stack.do(RecordConnection, name="STACK", **FIELDS, also=(PINS,))
    (verdict,) = stack.job.verdicts(["PAD"])
    assert "offset" in {f.code for f in verdict.stops}, "the pins of SHIM, with the plies free to shift"


def test_the_line_of_a_stack_says_its_pins_again(stack):
    stack.do(RecordConnection, name="STACK", **FIELDS, also=(PINS,), position="pins")
    (connection,) = (m for m in stack.job.connections() if m.name == "STACK")
    words = connection_words(connection)
    assert words.endswith("at pins, also M6 dowel pins on pins on pins")
    fields = connection_line(words, ("PAD", "SHIM", "SLAB")).fields
    assert fields["also"] == ({"fastener": "M6", "joint": "dowel", "groups": ("pins", "pins", "pins")},)
    assert fields["position"] == "pins"
