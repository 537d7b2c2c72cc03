"""What is written as DXF is the same in every process, whatever order its sets have there."""

from __future__ import annotations

import os
import subprocess
import sys

CODE = """
import hashlib
from ledger.domain.shape import Contour, Hole
from ledger.profile.write import write_dxf
plate = Contour(((0.0, 0.0, 0.0), (90.0, 0.0, 0.0), (90.0, 60.0, 0.0), (0.0, 60.0, 0.0)))
print(hashlib.sha256(write_dxf(plate, (Hole("", ((30.0, 30.0),), 9.0),))).hexdigest())
"""


def test_a_clean_copy_is_the_same_whatever_the_seed_of_hashes():
    told = {
        subprocess.run(
            [sys.executable, "-c", CODE],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in (1, 4, 5, 7, 9)
    }
    assert len(told) == 1
