"""What is written is clean, the same every time, and read back as it was."""

from __future__ import annotations

import io
import math
import subprocess
import sys
import threading
from collections import Counter

import ezdxf
import pytest
from profile_drawings import box, circle, codes, line, plate_bytes, raw, read

from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour, Hole, Stroke
from ledger.profile.read import geometry_digest
from ledger.profile.write import write_dxf, write_profile

RING = Contour(
    ((5, 0, 0), (95, 0, math.tan(math.pi / 8)), (100, 5, 0), (100, 60, 0), (0, 60, 0), (0, 5, 0.4142))
)
HOLES = (Hole("H1", ((20, 20),), 6.6), Hole("H2", ((40, 20), (60, 20)), 8))
OPENING = Contour(((70, 40, 0), (80, 40, 0), (80, 50, 0), (70, 50, 0)))
MARK = Stroke(((10, 10, 0.5), (20, 10, 0)), "x")
BEND = Stroke(((50, 0, 0), (50, 60, 0)))


def flat(holes):
    return [v for hole in holes for point in hole.core for v in point]


def document(data):
    return ezdxf.read(io.StringIO(data.decode()))


def test_the_same_shapes_give_the_same_bytes():
    first = write_dxf(RING, HOLES, (OPENING,), marks=(MARK,), bends=(BEND,))
    assert first == write_dxf(RING, HOLES, (OPENING,), marks=(MARK,), bends=(BEND,))
    found = set()
    threads = [
        threading.Thread(target=lambda: found.add(write_dxf(RING, HOLES, (OPENING,)))) for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {write_dxf(RING, HOLES, (OPENING,))}


def test_writing_leaves_the_librarys_switch_as_it_was():
    before = ezdxf.options.write_fixed_meta_data_for_testing
    write_dxf(RING)
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


def test_a_contour_is_one_closed_polyline_and_a_round_hole_a_circle():
    space = document(write_dxf(RING, HOLES, (OPENING,), marks=(MARK,), bends=(BEND,))).modelspace()
    kinds = Counter((e.dxftype(), e.dxf.layer) for e in space)
    assert kinds == {
        ("LWPOLYLINE", "CUT"): 3,
        ("CIRCLE", "CUT"): 1,
        ("LWPOLYLINE", "MARK"): 1,
        ("LWPOLYLINE", "BEND"): 1,
    }
    assert all(e.closed for e in space.query("LWPOLYLINE[layer=='CUT']"))


def test_it_is_r2010_and_the_library_finds_no_fault():
    made = document(write_dxf(RING, HOLES, (OPENING,)))
    assert made.dxfversion == "AC1024"
    assert made.audit().errors == []


@pytest.mark.parametrize(
    ("unit", "code", "metric"), [("mm", 4, 1), ("in", 1, 0), ("cm", 5, 1), ("ft", 2, 0), ("mil", 9, 0)]
)
def test_the_header_says_the_unit_twice_alike_and_it_reads_back(unit, code, metric):
    data = write_dxf(RING, HOLES, (OPENING,), unit=unit)
    made = document(data)
    assert (made.header["$INSUNITS"], made.header["$MEASUREMENT"]) == (code, metric)
    profile = read(data)
    assert profile.findings == ()
    assert profile.unit_used == unit
    assert profile.size_mm == pytest.approx((100, 60))
    assert [h.diameter_mm for h in profile.holes] == pytest.approx([6.6, 8])


def test_shapes_read_back_exactly_in_mm():
    profile = read(write_dxf(RING, HOLES, (OPENING,), marks=(MARK,), bends=(BEND,)))
    assert profile.usable
    assert profile.outline == RING.canonical()
    assert profile.openings == (OPENING,)
    assert profile.marks == (Stroke(MARK.vertices, "MARK"),)
    assert profile.bends == (Stroke(BEND.vertices, "BEND"),)
    slot = profile.hole("H2")
    assert slot.is_slot
    assert flat([slot]) == pytest.approx([40, 20, 60, 20])


def test_writing_what_was_read_changes_no_shape():
    first = read(plate_bytes())
    again = read(write_profile(first))
    assert geometry_digest(read(write_profile(again))) == geometry_digest(again)
    assert again.area_mm2 == pytest.approx(first.area_mm2)
    assert flat(again.holes) == pytest.approx(flat(first.holes))


def test_a_clean_copy_fixes_what_can_be_fixed():
    """Doubled holes, a small gap, text and an entity without length are gone in the copy; its shape is the same."""
    dirty = raw(
        line(0.004, 0, 100, 0),
        line(100, 0, 100, 60),
        line(100, 60, 0, 60),
        line(0, 60, 0, 0),
        circle(20, 20, 4) * 2,
        line(5, 5, 5, 5),
        "0\nTEXT\n8\nNOTES\n10\n1\n20\n1\n40\n3\n1\nM8\n",
    )
    profile = read(dirty)
    assert codes(profile, "stop") == {"duplicate", "unexplained_content"}
    copy = read(write_profile(profile))
    assert copy.findings == ()
    assert geometry_digest(copy) == geometry_digest(profile)


def test_a_closed_mark_stays_closed():
    profile = read(raw(box(0, 0, 100, 60), circle(50, 30, 5, layer="MARK")))
    again = read(write_profile(profile))
    assert again.marks[0].vertices == profile.marks[0].vertices


def test_text_makes_a_file_unclean():
    profile = read(write_dxf(RING, texts=((10, 10, "M8"),)))
    assert codes(profile, "stop") == {"unexplained_content"}


def test_no_outline_and_several_outlines_can_be_written():
    assert codes(read(write_dxf(None, HOLES))) >= {"no_outline"}
    assert codes(read(write_dxf((RING, Contour(((200, 0, 0), (260, 0, 0), (260, 60, 0))))))) == {
        "several_outlines"
    }


def test_a_number_that_is_not_finite_is_refused():
    with pytest.raises(BadInput):
        write_dxf(Contour(((0, 0, 0), (math.nan, 0, 0), (5, 5, 0))))
    with pytest.raises(BadInput):
        write_dxf(RING, (Hole("H1", ((0, 0),), math.inf),))
    with pytest.raises(BadInput):
        write_dxf(RING, unit="furlong")


def test_the_first_copies_of_a_process_may_be_written_at_once():
    code = (
        "from concurrent.futures import ThreadPoolExecutor\n"
        "from ledger.domain.shape import Contour, Hole\n"
        "from ledger.profile.write import write_dxf\n"
        "ring = Contour(((0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, 9.0, 0.0)))\n"
        "with ThreadPoolExecutor(8) as writers:\n"
        "    print(len(set(writers.map(lambda _: write_dxf(ring, (Hole('', ((2.0, 2.0),), 1.0),), ()), range(8)))))\n"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "1\n"
