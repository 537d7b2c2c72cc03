"""A hundred bodies: what is in what and what is near, beside every pair asked of the library."""

from __future__ import annotations

import sys
import time
from itertools import combinations

import numpy as np
import pytest
import shapely

from ledger.assembly.solids import Flat, gap_mm, prism
from ledger.assembly.space import HERE, Frame
from ledger.cases.bodies import Body
from ledger.cases.places import Piece, Places
from ledger.cases.room import meetings

LIMIT_S = 5.0
COUNT, HOLES = 100, 20


def hundred_plates():
    """Plates with 20 holes in stacks of ten, 5 mm between two, and every tenth one pushed 2 mm into the next."""
    random, places = np.random.default_rng(1), Places()
    for k in range(COUNT):
        sheet = shapely.box(0, 0, 200, 150)
        for x, y in random.uniform((15, 15), (185, 135), (HOLES, 2)):
            sheet = sheet - shapely.Point(x, y).buffer(6.75)
        z = 15.0 * (k // 10) + (7.0 if k < 10 else 0.0)  # the first ten 2 mm into those above
        frame = Frame(np.eye(3), np.array([230.0 * (k % 10), 0.0, z]))
        solid = prism(sheet, -10, 0)
        body = Body(f"P{k}", solid, flats=(Flat(sheet, HERE, 10.0),))
        moved = solid.translate(tuple(frame.shift))
        places.pieces[body.number] = Piece(body.number, body, frame, moved)
    return places


@pytest.mark.bench
def test_a_hundred_bodies_are_looked_at_in_five_seconds():
    began = time.process_time()
    found = list(meetings((), hundred_plates()))
    ours = time.process_time() - began
    began = time.process_time()
    solids = [p.solid for p in hundred_plates().pieces.values()]
    theirs = {
        (f"P{a}", f"P{b}") for a, b in combinations(range(COUNT), 2)
        if gap_mm(solids[a], solids[b], 0.05) == 0 and (solids[a] ^ solids[b]).volume() > 1e-6
    }  # fmt: skip
    peer = time.process_time() - began
    sys.stdout.write(f"\n{COUNT} bodies: {ours:.2f} s of processor; every pair by the library {peer:.2f} s\n")
    assert {(m.one.name, m.other.name) for m in found if m.collides} == theirs
    assert len(theirs) == 10
    assert ours < LIMIT_S
