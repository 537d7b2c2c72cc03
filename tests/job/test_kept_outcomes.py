"""After a change only what it concerns is looked at again; what is kept never decides what is signed or locked."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.questions import AskQuestion
from ledger.cases.connections import ConnectionCase
from ledger.cases.parts import PartCase
from ledger.checks import all_checks
from ledger.domain.connection import Connection, Ply
from ledger.domain.errors import NotReleasable
from ledger.domain.record import Part
from ledger.judge.outcomes import Keys, Outcomes, _file

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


def test_after_one_changed_dimension_only_checks_of_dimensions_look_again(bench):
    bench.job.verdicts(BOTH)
    bench.do(
        RecordDimension, number="BASE", name="width", nominal="200 mm", limits="±0.3", measured_on="width"
    )
    part_checks = [c for c in CHECKS if c.on is PartCase]
    of_dimensions = [c for c in part_checks if "dimensions" not in c.apart_from]
    assert 0 < len(of_dimensions) < len(part_checks)
    of_connections = [c for c in CHECKS if c.on is ConnectionCase and "measured_on" in c.besides]
    assert looked(bench.job, *BOTH) == len(of_dimensions) + len(of_connections)


def test_a_changed_connection_is_looked_at_again_and_its_parts_are_not(bench):
    bench.job.verdicts(BOTH)
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    of_connections = [c for c in CHECKS if c.on is ConnectionCase]
    both_sides = [c for c in of_connections if "standing" in c.besides]
    assert looked(bench.job, *BOTH) == len(of_connections) + len(both_sides)


def test_a_stop_that_was_kept_is_seen_to_be_gone(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    assert "question_open" in bench.codes("BASE")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert "question_open" not in bench.codes("BASE")


def test_locking_looks_afresh_whatever_is_kept(bench, monkeypatch):
    """A file that calls everything sound, with a right seal, changes what is shown; it locks nothing."""
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    bench.job.verdicts(["BASE"])
    for by_check in bench.job.judging.outcomes._all().values():
        by_check.update(dict.fromkeys(by_check, "ran"))
    assert "question_open" not in bench.codes("BASE")
    with pytest.raises(NotReleasable) as refusal:
        bench.job.sign(BOTH, "drawn", "Mira", {})
    assert any(s.code == "question_open" for v in refusal.value.verdicts for s in v.stops)
    with pytest.raises(NotReleasable) as refusal:
        bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    assert any(s.code == "question_open" for v in refusal.value.verdicts for s in v.stops)


@pytest.mark.parametrize(
    "damage",
    [
        lambda whole: b"",
        lambda whole: b"{}",
        lambda whole: b"\xff\xfe\x00",
        lambda whole: whole.replace(b'"job": "', b'"job": "x'),
        lambda whole: whole.replace(b'"ran"', b'"none"'),
        lambda whole: whole.split(b"\n")[0] + b"\n" + b"0" * 12 + b'["a","b","ran"]\n',
    ],
    ids=["empty", "no seal", "not text", "another job", "edited", "another seal"],
)
def test_a_damaged_file_costs_time_only(bench, damage):
    before = bench.job.verdicts(BOTH)
    file = _file(bench.job.ident)
    file.write_bytes(damage(file.read_bytes()))
    job = bench.reopen()
    assert job.verdicts(BOTH) == before
    assert job.judging.outcomes.looked > 5
    assert looked(bench.reopen(), *BOTH) == 0


def test_a_line_that_was_cut_off_is_looked_at_again_alone(bench):
    before = bench.job.verdicts(BOTH)
    file = _file(bench.job.ident)
    file.write_bytes(file.read_bytes()[:-20])
    job = bench.reopen()
    assert job.verdicts(BOTH) == before
    assert job.judging.outcomes.looked == 1


def test_two_seats_on_one_machine_add_to_one_file(bench):
    from bench_job import PASSPHRASE

    from ledger.job import Job

    with Job(bench.place, lambda _name: PASSPHRASE, bench.clock) as other:
        other.verdicts(["TURN"])
        bench.job.verdicts(["BASE"])
        other.verdicts(BOTH)
        bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
        other.verdicts(["BASE"])
    assert looked(bench.reopen(), *BOTH) <= 1


def test_another_build_keeps_for_itself(bench, monkeypatch):
    bench.job.verdicts(BOTH)
    monkeypatch.setattr("ledger.judge.outcomes.build", lambda: "another")
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


def cases(bench):
    with bench.job.store.reading() as facts:
        return bench.job.judging.bench(facts, ["BASE"]).cases("BASE")


@pytest.mark.parametrize("name", [f.name for f in fields(Part)])
def test_every_field_of_a_part_is_in_the_key_of_every_check_that_is_shown_it(bench, name):
    case, _connections = cases(bench)
    other = replace(case, part=replace(case.part, **{name: None}))
    assert getattr(case.part, name) is not None or name in (
        "coating_thickness",
        "per_assembly",
        "assemblies",
        "spares",
        "bend_data",
    )
    if getattr(case.part, name) is None:
        other = replace(case, part=replace(case.part, **{name: 1}))
    for check in (c for c in CHECKS if c.on is PartCase):
        same = Keys(case).of(check) == Keys(other).of(check)
        assert same == (name in check.apart_from), check.name


@pytest.mark.parametrize(
    ("record", "name"),
    [(r, f.name) for r in (Connection, Ply) for f in fields(r)],
    ids=lambda x: getattr(x, "__name__", x),
)
def test_every_field_of_a_connection_and_its_plies_is_in_the_key(bench, record, name):
    _case, (connection,) = cases(bench)
    if record is Connection:
        other = replace(connection, connection=replace(connection.connection, **{name: "other"}))
    else:
        first = replace(connection.plies[0], ply=replace(connection.plies[0].ply, **{name: "other"}))
        other = replace(connection, plies=(first, *connection.plies[1:]))
    check = next(c for c in CHECKS if c.name == "hole_alignment")
    assert Keys(connection).of(check) != Keys(other).of(check)


def test_which_revision_counts_is_shown_and_keyed_only_where_it_is_asked_for(bench):
    _case, (connection,) = cases(bench)
    plies = (replace(connection.plies[0], standing="locked"), *connection.plies[1:])
    other = replace(connection, plies=plies, viewed_from="TURN")
    for check in (c for c in CHECKS if c.on is ConnectionCase):
        assert (Keys(connection).of(check) != Keys(other).of(check)) == ("standing" in check.besides), (
            check.name
        )
    seen = connection.shown((), ())
    assert {p.standing for p in seen.plies} == {"in the set"}
    assert seen.best_fit is connection.best_fit


def test_a_whole_shelf_reads_the_same_records(bench):
    with bench.job.store.reading() as facts:
        one = bench.job.judging.bench(facts, BOTH)
        all_of_it = bench.job.judging.bench(facts, BOTH, whole=True)
        assert [one.cases(n) for n in BOTH] == [all_of_it.cases(n) for n in BOTH]
        assert [one.verdict(n) for n in BOTH] == [all_of_it.verdict(n) for n in BOTH]


def test_outcomes_that_are_too_many_are_thinned_to_those_in_use(bench, monkeypatch):
    monkeypatch.setattr("ledger.judge.outcomes._MOST", 3)
    bench.job.verdicts(BOTH)
    bench.do(
        RecordDimension, number="BASE", name="width", nominal="200 mm", limits="±0.3", measured_on="width"
    )
    job = bench.reopen()
    job.verdicts(["BASE"])
    assert set(Outcomes(job.ident)._all()) == job.judging.outcomes._used
    assert looked(bench.reopen(), "BASE") == 0
