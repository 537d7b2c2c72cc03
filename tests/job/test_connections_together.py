"""Two connections of the same parts are judged together: what changes in one is seen in the other, and by the lock."""

from __future__ import annotations

import pytest
from bench_job import CORNERS

from ledger.acts.connections import RecordConnection
from ledger.acts.parts import NameGroup
from ledger.domain.errors import NotReleasable


def _plate(pair_x):
    from ledger.domain.shape import Contour, Hole
    from ledger.profile.write import write_dxf

    drawn = [(x, y, 13.5) for x, y in CORNERS] + [(pair_x, 50.0, 9.5), (pair_x + 40, 50.0, 9.5)]
    outline = Contour(((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 100.0, 0.0), (0.0, 100.0, 0.0)))
    return write_dxf(outline, tuple(Hole("", ((x, y),), d) for x, y, d in drawn), ())


def test_a_pair_that_is_off_as_a_whole_stops_both_parts_and_the_lock(bench):
    for number, pair in (("PAD", 60.0), ("SLAB", 64.0)):
        bench.plate(number, _plate(pair))
        holes = bench.job.part(number).holes
        for name, wide in (("corners", True), ("pair", False)):
            labels = tuple(h.label for h in holes if (h.diameter_mm > 10) is wide)
            bench.do(NameGroup, number=number, name=name, labels=labels)
    for name, fastener in (("corners", "M12"), ("pair", "M8")):
        plies = tuple({"part": number, "group": name} for number in ("PAD", "SLAB"))
        bench.do(
            RecordConnection,
            name=name,
            connection_kind="bolted",
            joint="through",
            fastener=fastener,
            plies=plies,
        )
        before = [bench.codes(number) for number in ("PAD", "SLAB")]
        assert all(("not_together" in codes) is (name == "pair") for codes in before), "kept outcomes, too"
    with pytest.raises(NotReleasable) as refusal:
        bench.job.lock(("PAD", "SLAB"), "Jonas", bench.folder / "out")
    assert all(any(s.code == "not_together" for s in v.stops) for v in refusal.value.verdicts)
    plies = tuple({"part": number, "group": "corners"} for number in ("PAD", "SLAB"))
    bench.do(
        RecordConnection,
        name="corners",
        connection_kind="bolted",
        joint="through",
        fastener="M12",
        plies=plies,
        turned_over="yes",
    )
    assert "turned_over_differs" in bench.codes("PAD")
