"""
Jobs attacked at random by somebody who has the file, a workstation's role or one person's key: none gets through.

Nothing false is let out at any door, nobody locks what has an open question, and `verify` finds no job whole in which
something has changed that only a keeper, a signature or a lock may change. What is left are claims, which anybody may
make; where they were written over others that stood there, a seal that was noted tells. Drawn from a seed; by
`-m bench` two thousand, with what found them.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
from collections import Counter
from pathlib import Path

import pytest
from insiders import World, as_it_was, attacked, made_in, what_became_of
from small_job import MovingClock

from ledger.store.grants import grants

ATTACKS = int(os.environ.get("FITUP_ATTACKS", "2000"))
ON_A_SERVER = int(os.environ.get("FITUP_ATTACKS_ON_A_SERVER", str(ATTACKS // 5)))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The job in a file: its place, its folder, and what it was."""
    folder = tmp_path_factory.mktemp("insiders")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        place = made_in(folder, MovingClock())
        return Path(place), folder / "keys", as_it_was(place, MovingClock(500))


@pytest.fixture(scope="module")
def made_on_a_server(server, tmp_path_factory):
    """The same on a server, as a template, with a role that may only add."""
    import psycopg

    folder = tmp_path_factory.mktemp("insiders")
    plain = server.replace("+psycopg", "")
    address = server.replace("/postgres?", "/insiders?")
    with psycopg.connect(plain, autocommit=True) as owner, pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        owner.execute("CREATE DATABASE insiders")
        owner.execute("CREATE ROLE inside LOGIN")
        made_in(folder, MovingClock(), address)
        before = as_it_was(address, MovingClock(500))
        with psycopg.connect(plain.replace("/postgres?", "/insiders?"), autocommit=True) as job:
            job.execute(grants("inside"))
        yield address, folder / "keys", before
        owner.execute("DROP DATABASE insiders WITH (FORCE)")
        owner.execute("DROP ROLE inside")


def on_a_file(made, folder, seed, who):
    place, keys, before = made
    folder.mkdir()
    shutil.copytree(keys, folder / "keys")
    source, copy = sqlite3.connect(place), sqlite3.connect(folder / "fitup.db")
    source.backup(copy)
    source.close()
    copy.close()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        patch.setenv("FITUP_CACHE", str(folder / "cache"))
        return ended(World(str(folder / "fitup.db"), who, random.Random(seed)), folder, before)


def on_a_server(made, server, folder, seed, who):
    import psycopg

    _, keys, before = made
    folder.mkdir()
    shutil.copytree(keys, folder / "keys")
    address = server.replace("/postgres?", "/insider?")
    role = address.replace("postgres:@", "inside:@")
    with psycopg.connect(server.replace("+psycopg", ""), autocommit=True) as owner:
        owner.execute("CREATE DATABASE insider TEMPLATE insiders STRATEGY file_copy")
        try:
            with pytest.MonkeyPatch.context() as patch:
                patch.setenv("FITUP_KEYS", str(folder / "keys"))
                patch.setenv("FITUP_CACHE", str(folder / "cache"))
                return ended(World(address, who, random.Random(seed), role), folder, before)
        finally:
            owner.execute("DROP DATABASE insider WITH (FORCE)")


def ended(world, folder, before):
    """What was done and how it ended."""
    done = attacked(world)
    try:
        return done, what_became_of(world, folder, MovingClock(1000), before)
    except AssertionError as won:
        raise AssertionError(f"{world.who}: {', '.join(done)}: {won}") from won


@pytest.mark.file_only
@pytest.mark.parametrize("who", ["file", "key"])
@pytest.mark.parametrize("seed", range(10))
def test_an_attack_on_a_file_lets_nothing_false_out(made, tmp_path, seed, who):
    on_a_file(made, tmp_path / "one", seed, who)


@pytest.mark.file_only
@pytest.mark.parametrize("who", ["role", "file", "key"])
@pytest.mark.parametrize("seed", range(3))
def test_an_attack_on_a_server_lets_nothing_false_out(made_on_a_server, server, tmp_path, seed, who):
    on_a_server(made_on_a_server, server, tmp_path / "one", seed, who)


@pytest.mark.bench
@pytest.mark.file_only
@pytest.mark.parametrize("kind", ["file", "server"])
def test_many_attacks_let_nothing_false_out(kind, request, tmp_path, capsys):
    made = request.getfixturevalue("made" if kind == "file" else "made_on_a_server")
    ends, won = Counter(), []
    for seed in range(100, 100 + (ATTACKS if kind == "file" else ON_A_SERVER)):
        who = ("file", "key", "role")[seed % (2 if kind == "file" else 3)]
        folder = tmp_path / "one"
        try:
            if kind == "file":
                done, end = on_a_file(made, folder, seed, who)
            else:
                done, end = on_a_server(made, request.getfixturevalue("server"), folder, seed, who)
        except AssertionError as fault:
            won.append(f"{seed} {fault}")
        else:
            ends.update((who, step, end) for step in done if len(done) == 1 or ": refused" not in step)
            ends[who, "all", end] += 1
        shutil.rmtree(folder)
    with capsys.disabled():
        for (who, step, end), count in sorted(ends.items()):
            print(f"{kind}: {who:5} {step:40} {end:24} {count}")  # noqa: T201 - a bench tells
    assert not won, json.dumps(won, indent=1)
