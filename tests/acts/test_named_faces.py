"""A face of a bought part may have a name of its own; a cut plate has a top, a bottom and an edge."""

from __future__ import annotations

import pytest

from ledger.domain.errors import UnknownName


def test_a_bought_part_has_faces_by_name_and_a_cut_plate_has_not(bench):
    bench.job.write_part("GEARBOX", {"form": "bought"}, by="Mira")
    on_feet = ({"part": "BASE", "group": "bolts"}, {"part": "GEARBOX", "face_up": "feet"})
    bench.connection("BASE-GEARBOX", plies=on_feet)
    connection = next(m for m in bench.job.connections() if m.name == "BASE-GEARBOX")
    assert [p.face_up for p in connection.plies] == ["top", "feet"]
    turned = ({"part": "BASE", "group": "bolts", "face_up": "feet"}, {"part": "GEARBOX"})
    with pytest.raises(UnknownName):
        bench.connection("BASE-GEARBOX", plies=turned)
