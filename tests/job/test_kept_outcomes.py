"""After a change only what it concerns is looked at again; what is kept never decides what is signed or locked."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from fractions import Fraction

import pytest

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.questions import AskQuestion
from ledger.cases.parts import PartCase, SurroundedPart
from ledger.cases.surroundings import OF_CONNECTIONS, OF_PARTS, AssembledPart, BuiltPart, CountedConnection
from ledger.checks import all_checks
from ledger.domain.connection import Connection, Ply
from ledger.domain.errors import NotReleasable
from ledger.domain.record import Part
from ledger.judge.cache import Cache, cache_file
from ledger.judge.case_digests import Digests

BOTH = ("BASE", "TURN")
CHECKS = all_checks()


def looked(job, *numbers):
    """How many checks had to look for these verdicts."""
    before = job.judging.outcomes.looked
    job.verdicts(numbers)
    return job.judging.outcomes.looked - before


def test_nothing_is_looked_at_twice(bench):
    assert looked(bench.job, *BOTH) > 20
    assert looked(bench.job, *BOTH) == 0
    assert looked(bench.reopen(), *BOTH) == 0


def test_kept_verdicts_are_those_that_are_judged_afresh(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    bench.job.verdicts(BOTH)
    kept = bench.reopen().verdicts(BOTH)
    with bench.job.store.reading() as facts:
        afresh = bench.job.judging.bench(facts, BOTH)
        assert kept == tuple(afresh.verdict(n) for n in BOTH)
    assert bench.job.judging.outcomes.looked == 0


def test_after_one_changed_dimension_only_its_part_and_what_is_measured_on_a_drawing_are_looked_at(bench):
    bench.job.verdicts(BOTH)
    bench.do(
        RecordDimension, number="BASE", name="width", nominal="200 mm", limits="±0.3", measured_on="width"
    )
    of_the_part = [c for c in CHECKS if c.on in OF_PARTS and c.on not in (AssembledPart, BuiltPart)]
    both_sides = 2 * [c for c in CHECKS if c.on is CountedConnection]
    assert looked(bench.job, *BOTH) == len(of_the_part) + len(both_sides)
    assert len(of_the_part) + len(both_sides) < len(CHECKS)


def test_a_changed_connection_is_looked_at_again_and_its_parts_are_not(bench):
    bench.job.verdicts(BOTH)
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    of_connections = [c for c in CHECKS if c.on in OF_CONNECTIONS]
    both_sides = [c for c in of_connections if c.on is CountedConnection]
    of_the_whole = 2 * [c for c in CHECKS if c.on is BuiltPart]
    assert looked(bench.job, *BOTH) == len(of_connections) + len(both_sides) + len(of_the_whole)


def test_a_stop_that_was_kept_is_seen_to_be_gone(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    assert "question_open" in bench.codes("BASE")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert "question_open" not in bench.codes("BASE")


def test_locking_looks_afresh_whatever_is_kept(bench, monkeypatch):
    """A file that calls everything sound, with a right seal, changes what is shown; it locks nothing."""
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    bench.job.verdicts(["BASE"])
    cache = Cache(bench.job.ident)
    assert cache.write("outcome", dict.fromkeys(kept_keys(bench), "ran"))
    cache.close()
    bench.reopen()
    assert "question_open" not in bench.codes("BASE")
    with pytest.raises(NotReleasable) as refusal:
        bench.job.sign(BOTH, "drawn", "Mira", {})
    assert any(s.code == "question_open" for v in refusal.value.verdicts for s in v.stops)
    with pytest.raises(NotReleasable) as refusal:
        bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    assert any(s.code == "question_open" for v in refusal.value.verdicts for s in v.stops)


def kept_keys(bench):
    with closing(sqlite3.connect(cache_file(bench.job.ident))) as file:
        return [key for (key,) in file.execute("SELECT key FROM kept WHERE room = 'outcome'")]


def changed(statement):
    def damage(path):
        with closing(sqlite3.connect(path)) as file, file:
            file.execute(statement)

    return damage


@pytest.mark.parametrize(
    "damage",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(b"{}"),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
        changed("DROP TABLE kept"),
        changed("PRAGMA user_version = 99"),
        changed("UPDATE kept SET value = CAST('\"ran\"' AS BLOB) WHERE value <> CAST('\"ran\"' AS BLOB)"),
        changed("UPDATE OR REPLACE kept SET key = replace(key, 'interference ', 'drawn_gap ')"),
        changed("UPDATE kept SET value = 7"),
    ],
    ids=["gone", "empty", "not one", "cut off", "no table", "another form", "edited", "moved", "a number"],
)
def test_a_damaged_file_costs_time_only(bench, damage):
    before = bench.job.verdicts(BOTH)
    damage(cache_file(bench.job.ident))
    job = bench.reopen()
    assert job.verdicts(BOTH) == before
    assert job.judging.outcomes.looked > 0
    assert looked(bench.reopen(), *BOTH) == 0


def test_the_file_of_another_job_is_left_aside(bench):
    before, all_of_them = bench.job.verdicts(BOTH), bench.job.judging.outcomes.looked
    other = Cache("another")
    assert other.write("outcome", dict.fromkeys(kept_keys(bench), "ran"))
    other.close()
    cache_file("another").replace(cache_file(bench.job.ident))
    job = bench.reopen()
    assert job.verdicts(BOTH) == before
    assert job.judging.outcomes.looked == all_of_them


def test_two_seats_on_one_machine_add_to_one_file(bench):
    from bench_job import PASSPHRASE

    from ledger.job import Job

    with Job(bench.place, lambda _name: PASSPHRASE, bench.clock) as other:
        other.verdicts(["TURN"])
        bench.job.verdicts(["BASE"])
        other.verdicts(BOTH)
        bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
        other.verdicts(["BASE"])
    of_the_set = [
        c for c in CHECKS if c.on is SurroundedPart
    ]  # BASE was not judged with TURN since the question
    assert looked(bench.reopen(), *BOTH) == len(of_the_set)


def test_another_build_keeps_for_itself(bench, monkeypatch):
    bench.job.verdicts(BOTH)
    monkeypatch.setattr("ledger.judge.case_digests.build", lambda: "another")
    assert looked(bench.reopen(), *BOTH) > 20


def test_a_folder_that_cannot_be_written_is_no_matter(bench, monkeypatch, tmp_path):
    (tmp_path / "taken").write_text("a file")
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "taken"))
    assert bench.reopen().verdicts(BOTH)


def test_a_check_that_crashed_is_not_kept(bench, monkeypatch):
    check = next(c for c in CHECKS if c.name == "no_connection")
    broken = replace(check, rule=lambda case: 1 / 0)
    monkeypatch.setattr("ledger.judge.bench.all_checks", lambda: (broken,))
    assert "check_failed" in bench.codes("BASE")
    monkeypatch.undo()
    assert "check_failed" not in {s.code for s in bench.reopen().verdicts(["BASE"])[0].stops}


@pytest.fixture
def arguments(bench):
    """What checks are given of BASE and its connection, by type, all of it filled in; and digests of such."""
    with bench.job.store.reading() as facts:
        one = bench.job.judging.bench(facts, ["BASE"])
        case, (connection,) = one.cases("BASE")
        seen = {on: one.seen(on, connection.connection, "BASE") for on in OF_CONNECTIONS}
        assembled = AssembledPart("BASE", ((one.connection_case(connection.connection),),))
        return {
            PartCase: case,
            SurroundedPart: one.surrounded_part(case),
            AssembledPart: assembled,
            BuiltPart: BuiltPart("BASE", one.build("BASE")),
            **seen,
        }


def digest_of(argument):
    return Digests().of(argument)


FIRST_OF = {  # of several values the first, and the several with another one in its place
    "plies": (lambda plies: plies[0], lambda other, plies: (other, *plies[1:])),
    "build": (
        lambda build: build.connections[0],
        lambda other, build: replace(build, connections=(other, *build.connections[1:])),
    ),
    "rings": (lambda rings: rings[0][0], lambda other, rings: ((other, *rings[0][1:]), *rings[1:])),
}


def others_of(argument):
    """The argument with each of its fields different, by name; within a case, and its plies, each of theirs."""
    for f in fields(argument):
        value = getattr(argument, f.name)
        if f.name == "case" or isinstance(value, Part):
            for name, other in others_of(value):
                yield f"{f.name}.{name}", replace(argument, **{f.name: other})
        elif f.name in FIRST_OF:
            first, put_back = FIRST_OF[f.name]
            for name, other in others_of(first(value)):
                yield (
                    f"plies.{name}".replace("plies.plies.", "plies."),
                    replace(argument, **{f.name: put_back(other, value)}),
                )
        elif isinstance(value, (Connection, Ply)):
            for of in fields(value):
                changed = replace(value, **{of.name: (getattr(value, of.name) and "other") or 1})
                if of.name == "plies":
                    continue  # they stand beside it
                yield f"{f.name}.{of.name}", replace(argument, **{f.name: changed})
        else:
            yield f.name, replace(argument, **{f.name: None if value is not None else 1})


@pytest.mark.parametrize("on", [*OF_PARTS, *OF_CONNECTIONS], ids=lambda on: on.__name__)
def test_everything_that_a_check_is_given_is_in_its_key(arguments, on):
    """Of parts in connections but what connections do not look at, which is taken from them before."""
    argument = arguments[on]
    known = digest_of(argument)
    assert digest_of(replace(argument)) == known
    changed = dict(others_of(argument))
    same = {name for name, other in changed.items() if digest_of(other) == known}
    assert same == {name for name, other in changed.items() if other == argument}
    assert all(name.startswith(("plies.part.", "case.plies.part.")) for name in same)
    assert len(changed) - len(same) > 20


@pytest.mark.parametrize("on", [*OF_PARTS, *OF_CONNECTIONS], ids=lambda on: on.__name__)
def test_an_argument_is_a_plain_value_from_which_nothing_else_can_be_reached(arguments, on):
    def values(value):
        yield value
        if is_dataclass(value):
            for f in fields(value):
                assert f.repr, f"{type(value).__name__}.{f.name} is not in the text that tells values apart"
                yield from values(getattr(value, f.name))
        elif isinstance(value, tuple):
            for one in value:
                yield from values(one)

    plain = (str, int, float, bool, Decimal, Fraction, frozenset, dict, tuple, type(None))
    strange = {
        type(v).__name__ for v in values(arguments[on]) if not (is_dataclass(v) or isinstance(v, plain))
    }
    assert strange == set()


def test_both_sides_of_a_connection_share_what_is_worked_out_of_it(bench):
    with bench.job.store.reading() as facts:
        records = bench.job.judging.bench(facts, ())
        one, other = (records.as_last_signed(n) for n in BOTH)
        (first,), (second,) = one.cases("BASE")[1], other.cases("TURN")[1]
        assert first is second
        counted = [
            b.seen(CountedConnection, first.connection, n) for b, n in ((one, "BASE"), (other, "TURN"))
        ]
        assert [c.standings for c in counted] == [("open", "in the set"), ("in the set", "open")]


def test_a_whole_shelf_reads_the_same_records(bench):
    with bench.job.store.reading() as facts:
        one = bench.job.judging.bench(facts, BOTH)
        all_of_it = bench.job.judging.bench(facts, BOTH, whole=True)
        assert [one.cases(n) for n in BOTH] == [all_of_it.cases(n) for n in BOTH]
        assert [one.verdict(n) for n in BOTH] == [all_of_it.verdict(n) for n in BOTH]


def test_a_build_of_the_same_content_is_worked_out_once_and_of_another_again():
    from ledger.cases.build import Build
    from ledger.judge.bench import _Builds

    known, first, second = _Builds(2), Build(), Build()
    assert known.once("a", first) is first
    assert known.once("a", second) is first
    assert known.once("b", second) is second
    assert known.once("a", Build()) is first  # used again, so it is not the one that goes
    assert known.once("c", second) is second
    assert known.once("b", first) is first
