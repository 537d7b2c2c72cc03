"""
One thread for linear algebra in a program that had loaded numpy before it loaded this package.

Its library has read the settings of `ledger` too late then. Measured with thirty points and more programs than
processors: 2 to 11 s with two threads that wait for each other, 0.2 s with one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

from ledger import NUMPY_CAME_FIRST, THREADS


@contextmanager
def on_one_thread() -> Iterator[None]:
    """Linear algebra within runs on one thread; also a decorator. A setting of the user's own wins."""
    if not NUMPY_CAME_FIRST or any(os.environ.get(name, "1") != "1" for name in THREADS):
        yield
        return
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):
        yield
