"""
Linear algebra runs on one thread here, whichever door one comes in by.

Small least-squares problems are several times slower with threads that wait for each other on a busy machine. The
library reads these settings when it loads, so they are made before anything below loads numpy; a setting of the user's
own wins, and processes that are started from here inherit them.
"""

from __future__ import annotations

import os
import sys
from collections.abc import MutableMapping

THREADS = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "BLIS_NUM_THREADS",
)


def one_thread(environ: MutableMapping[str, str]) -> None:
    """One thread for linear algebra, where nothing is said."""
    if not any(environ.get(name) for name in THREADS):
        environ.update(dict.fromkeys(THREADS, "1"))


NUMPY_CAME_FIRST = "numpy" in sys.modules  # then `domain.one_thread` does it where it matters
one_thread(os.environ)
