"""A command takes the line that the screen takes, and records the same; with options beside it, it is refused."""

import json
import shlex

import pytest
from bench_job import CORNERS, plate_dxf

from ledger.cli import main
from ledger.cli.lines import LINES
from ledger.cli.parser import build_parser

# command by names and options, the same in one line, and where show --json tells of it
SAME = [
    ("dimension BASE w '9 mm' --limits ±0.1 --source measured --uncertainty '0.05 mm' --instrument caliper --on width",
     "dimension BASE 'w = 9 mm ±0.1, measured ±0.05 mm caliper, on width'", "dimensions"),
    ("dimension BASE half w/2 --source calculated --limits ±0.1", "dimension BASE 'half = w/2 ±0.1, calculated'",
     "dimensions"),
    ("group BASE bolts H1 H2", "group BASE 'bolts = H1 H2'", "groups"),
    ("operation BASE H1 H2 --as tapped --thread M8", "operation BASE 'H1 H2: tapped M8'", "operations"),
    ("ask BASE Q1 'which face?' --depends-on PIER --needed-by 2027-05-01",
     "ask BASE 'which face?; depends on PIER; needed by 2027-05-01'", "questions"),
    ("hole PIER S1 '150 mm' '-20 mm' '16 mm' --uncertainty '0.5 mm'",
     "hole PIER 'S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured'", "holes"),
    ("point PIER P3 --diameter '12 mm' --at '1 mm, -2 mm' --uncertainty '0.5 mm'",
     "point PIER 'P3, 12 mm at 1 mm, -2 mm ±0.5 mm'", "points"),
    ("distance PIER P1 P2 '1532 1533 mm tape'", "distance PIER 'P1 P2 1532 1533 mm tape'", "distances"),
    ("distance PIER P1 P2 '1532 mm tape' --at 30C", "distance PIER 'P1 P2 1532 mm tape at 30C'", "distances"),
    ("part ARM --form cut --title 'Fork arm, left'", "part 'ARM cut Fork arm, left'", "title"),
]  # fmt: skip


@pytest.fixture
def fitup(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FITUP_BY", "Mira")
    (tmp_path / "pass").write_text("correct horse\n")
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", str(tmp_path / "pass"))
    (tmp_path / "base.dxf").write_bytes(plate_dxf(CORNERS))

    def run(job, *words):
        code = main(["--job", str(tmp_path / job), "--json", *words])
        return code, json.loads(capsys.readouterr().out)

    def started(job):
        for words in (
            "start Works",
            "part BASE",
            "part PIER --form site --material concrete",
            "part PIER --form site",
            "take BASE base.dxf",
            "point PIER P1 P2",
            "dimension BASE w '20 mm'",
        ):
            code, told = run(job, *shlex.split(words))
            assert code == 0, (words, told)
        return lambda words: run(job, *shlex.split(words))

    return started


@pytest.mark.parametrize(("options", "line", "where"), SAME)
def test_a_line_records_what_the_options_record(fitup, options, line, where):
    told = []
    for job, words in (("a.db", options), ("b.db", line)):
        run = fitup(job)
        number = shlex.split(words)[1].split()[0]
        code, made = run(words)
        assert code == 0, made
        told.append(run(f"show {number}")[1][where])
    assert told[0] == told[1]
    assert told[0]


def test_connections_bolts_clearances_and_people_in_one_line(fitup):
    run = fitup("a.db")
    assert run("part TURN")[0] == 0
    for words in (
        "connect 'T: bolted M12 through, TURN on BASE:bolts:bottom, turned over, at 10, 20, 90'",
        "bolt T '40 mm, 2 washers'",
        "clearance T 'arm to cover: >= 3 mm, critical'",
        "connect U beside TURN PIER",
    ):
        run("group BASE 'bolts = H1 H2'")
        code, told = run(words)
        assert code == 0, told
    made = run("connections")[1]["connections"][0]
    assert [(p["part"], p["group"], p["face_up"]) for p in made["plies"]] == [
        ("TURN", "", "top"),
        ("BASE", "bolts", "bottom"),
    ]
    assert made["position"] == "10, 20, 90"
    assert (made["bolt_length"]["written"], made["washers"]) == ("40 mm", 2)
    assert made["clearances"][0]["required"] == ">= 3 mm"
    assert run("enroll 'Ada: checked'")[0] == 0
    assert run("people")[1]["people"][0]["roles"] == ["checked", "keeper"]
    assert run("instrument 'caliper 7 = caliper, calibrated 2024-01-31, limit 0.02 mm'")[0] == 0
    assert run("instrument")[1]["instruments"][0]["limit"] == "0.02 mm"
    assert run("bend-data 'Kerf & Son: 3 mm of S235, R 3 mm, K 0.44'")[0] == 0
    assert run("bend-data")[1]["bend_data"][0]["k_factor"] == "0.44"
    assert run("ask BASE 'up or down?'")[1]["ident"] == "Q1"
    assert run("link BASE Q1 'holds up TURN; needed by 2027-05-01'")[0] == 0
    assert run("show BASE")[1]["questions"][0]["holds_up"] == ["TURN"]


@pytest.mark.parametrize(
    "words",
    [
        "dimension BASE 'w = 9 mm' --limits ±0.1",
        "dimension BASE 'w = 9 mm' --source given",
        "group BASE 'bolts = H1 H2' --from H3",
        "operation BASE 'H1: tapped M8' --thread M8",
        "hole PIER 'S1 = 1 mm, 2 mm, 3 mm, ±0.5 mm' --source measured",
        "point PIER 'P3, 12 mm' --side 'left of P1 P2'",
        "distance PIER 'P1 P2 1532 mm tape' --at 30C",
        "ask BASE 'why?' --needed-by 2027-05-01",
        "link BASE Q1 'holds up TURN' --needed-by 2027-05-01",
        "connect 'T: bolted M12 through, BASE on PIER' --fastener M16",
        "bolt T '40 mm' --washers 1",
        "clearance T 'gap: >= 3 mm' --critical",
        "permit BASE overlap 'trimmed on site' --until 2027-01-01",
        "enroll 'Ada: checked' --roles drawn",
        "key Ada 'add: lost' --add",
        "instrument 'c = caliper, calibrated 2024-01-31' --limit '1 mm'",
        "bend BASE 'B1: 90 deg up' --as '90 deg down'",
        "bend-data 'Kerf: 3 mm of S235, K 0.44' --k 0.4",
        "take BASE base.dxf 'A=cut' --layer B=bend",
    ],
)
def test_a_line_with_options_is_refused_and_records_nothing(fitup, words):
    run = fitup("a.db")
    before = len(run("journal")[1]["entries"])
    code, told = run(words)
    assert code == 2
    assert told["error"]["kind"] == "usage"
    assert "fitup" in told["error"]["message"]
    assert len(run("journal")[1]["entries"]) == before


@pytest.mark.parametrize("name", sorted(LINES))
def test_the_help_of_a_command_shows_its_line(name, capsys):
    with pytest.raises(SystemExit):
        build_parser().parse_args([name, "--help"])
    said = capsys.readouterr().out
    assert LINES[name].form.shape in said
    assert LINES[name].example(name) in said


@pytest.mark.parametrize("name", sorted(LINES))
def test_the_example_in_the_help_is_a_command(name):
    args = build_parser().parse_args(shlex.split(LINES[name].example(name))[1:])
    assert args.command == name


def test_a_command_that_lacks_a_word_names_it_and_the_line(fitup):
    code, told = fitup("a.db")("dimension BASE --limits ±0.1")
    assert code == 2
    assert "nominal" in told["error"]["message"]
