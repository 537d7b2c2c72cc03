"""A frozen distance between points of a pier: measured again, it stops unless a permit covers it."""

from __future__ import annotations

import pytest

from ledger.acts.dimensions import RecordDimension
from ledger.acts.survey import RecordPoint
from ledger.domain.errors import UnknownName


def pier(bench, x="300 mm"):
    for label, at in (("P1", ("0 mm", "0 mm", "0 mm")), ("P2", (x, "400 mm", "1200 mm"))):
        bench.do(RecordPoint, number="PIER", label=label, at=at, uncertainty="0.3 mm")


def test_a_change_is_a_stop_unless_a_permit_covers_it(bench):
    bench.job.write_part("PIER", {"form": "site", "unconnected": True}, by="Mira")
    pier(bench)
    bench.do(
        RecordDimension, number="PIER", name="span", nominal="1300 mm", limits="±1 mm", frozen=True,
        measured_on="distance P1 P2",
    )  # fmt: skip
    assert not {"points_moved", "frozen_changed", "off_drawing"} & bench.codes("PIER")
    pier(bench, "320 mm")
    assert "points_moved" in bench.codes("PIER")
    bench.job.permit("PIER", "Mira", code="points_moved", place="span", reason="shimmed", until="")
    assert "points_moved" not in bench.codes("PIER")


def test_a_point_that_is_not_there_is_told_with_the_nearest(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    pier(bench)
    with pytest.raises(UnknownName, match=r"no point of PIER 'P3'.*P1, P2"):
        bench.do(RecordDimension, number="PIER", name="s", nominal="1 m", measured_on="distance P1 P3")
