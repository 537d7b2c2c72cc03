"""
Drawings with tags changed at random: never anything but a profile or a refusal, never late, never a file written.

FITUP_FUZZ names how many drawings are tried; without it a few seconds' worth.
"""

from __future__ import annotations

import os
import time
from functools import cache

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from profile_drawings import R2000, arc, block, box, circle, insert, line, plate_bytes, raw, spline

from ledger.domain.errors import BadInput, Unreadable
from ledger.domain.shape import Profile
from ledger.profile.child import WALL_SECONDS
from ledger.profile.pool import reader
from ledger.profile.scan import scan

TRIES = int(os.environ.get("FITUP_FUZZ", "120"))
VALUES = (
    "",
    "0",
    "-1",
    "1",
    "2",
    "1e6",
    "-1e6",
    "1e15",
    "nan",
    "inf",
    "1e-320",
    "0.1e",
    "999999",
    "65536",
    "AcDb",
    "\x1b[2J",
)
CODES = (
    "0",
    "5",
    "8",
    "10",
    "11",
    "20",
    "21",
    "40",
    "41",
    "42",
    "50",
    "51",
    "62",
    "67",
    "70",
    "71",
    "90",
    "100",
    "210",
    "230",
)


@cache
def seeds():
    curve = spline(3, [(20, 20), (30, 40), (40, 10), (50, 20)], [0, 0, 0, 0, 1, 1, 1, 1])
    return (
        plate_bytes("R12"),
        plate_bytes("R2010"),
        raw(
            box(0, 0, 90, 60),
            circle(20, 20, 3),
            arc(60, 30, 5, 0, 180),
            line(55, 30, 65, 30),
            curve,
            head=R2000,
        ),
        raw(
            insert("B", 0, 0, 70, 2, 71, 3, 44, 20, 45, 20),
            box(-9, -9, 99, 99),
            blocks=block("B", circle(5, 5, 2)),
        ),
    )


@st.composite
def changed(draw):
    """A seed with one to five changes to its tags."""
    lines = draw(st.sampled_from(seeds())).decode("latin-1").split("\n")
    for _ in range(draw(st.integers(1, 5))):
        at = draw(st.integers(0, max(len(lines) // 2 - 1, 0))) * 2
        what = draw(st.sampled_from(("value", "code", "drop", "double", "cut", "swap", "letter")))
        if what == "value":
            lines[at + 1 : at + 2] = [draw(st.sampled_from(VALUES))]
        elif what == "code":
            lines[at : at + 1] = [draw(st.sampled_from(CODES))]
        elif what == "drop":
            del lines[at : at + draw(st.sampled_from((1, 2, 4, 20)))]
        elif what == "double":
            lines[at:at] = lines[at : at + draw(st.sampled_from((2, 8, 40)))]
        elif what == "cut":
            del lines[at:]
        elif what == "swap":
            other = draw(st.integers(0, max(len(lines) // 2 - 1, 0))) * 2
            lines[at : at + 2], lines[other : other + 2] = lines[other : other + 2], lines[at : at + 2]
        else:
            lines[at : at + 1] = [draw(st.text(max_size=4))]
        lines = lines or [""]
    return "\n".join(lines).encode("utf-8", "surrogateescape")


def outcome(work):
    """What came of it: a value, or the words of its own refusal; anything else is not caught."""
    try:
        return work()
    except (Unreadable, BadInput) as refusal:
        return str(refusal)


@settings(max_examples=TRIES, suppress_health_check=list(HealthCheck))
@given(data=changed())
def test_a_changed_drawing_is_read_or_refused_in_time(data):
    began = time.monotonic()
    found = outcome(lambda: reader.parse(data, scan(data), unit=None, roles=None))
    if isinstance(found, Profile):
        assert found.usable or any(f.severity == "stop" for f in found.findings)
    else:
        assert found
    assert time.monotonic() - began < WALL_SECONDS + 4


@settings(max_examples=TRIES, suppress_health_check=list(HealthCheck))
@given(
    data=st.one_of(
        st.binary(max_size=2000), st.binary(max_size=600).map(lambda b: b"0\nSECTION\n2\nENTITIES\n" + b)
    )
)
def test_any_bytes_at_all_are_refused_or_scanned(data):
    assert outcome(lambda: scan(data))
