"""The command line as a stranger or a script would use it: exit codes, one JSON object, clear refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_job import CORNERS, PASSPHRASE, plate_dxf

from ledger.cli import main
from ledger.cli.clearance_kinds import PICTURES
from ledger.cli.parser import build_parser
from ledger.domain.connection import CONNECTION_KINDS
from ledger.domain.shape import Contour, Hole
from ledger.profile.write import write_dxf


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "pass").write_text("correct horse\n")
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", str(tmp_path / "pass"))
    monkeypatch.setenv("FITUP_BY", "Mira")
    return tmp_path


@pytest.fixture
def said(capsys):
    def run(*words):
        code = main([*words, "--json"])
        out = capsys.readouterr().out
        return code, json.loads(out)

    return run


def test_a_dimension_is_calculated_from_others_and_follows_them(here, said):
    said("start", "Pier mount")
    said("part", "BASE")
    said("dimension", "BASE", "W", "100 mm")
    code, made = said("dimension", "BASE", "reach", "2*W + 3/16 in", "--source", "calculated")
    assert (code, made["value"]) == (0, "204.7625 mm")
    said("dimension", "BASE", "W", "50 mm")
    (reach,) = [d for d in said("show", "BASE")[1]["dimensions"] if d["name"] == "reach"]
    assert (reach["nominal"]["written"], reach["formula"]) == ("104.7625 mm", "2*W + 3/16 in")
    code, refused = said("dimension", "BASE", "W2", "W*W", "--source", "calculated")
    assert (code, refused["error"]["kind"]) == (2, "BadInput")
    assert said("dimension", "BASE", "lean", "87.5 deg", "--limits", "±0.5")[0] == 0


def test_by_hand_from_an_empty_folder_to_a_verified_packet(here, said, capsys):
    for name in ("BASE", "TURN"):
        (here / f"{name}.dxf").write_bytes(plate_dxf())
    assert said("start", "Pier mount")[0] == 0
    assert said("enroll", "Mira")[0] == 0
    assert said("enroll", "Jonas", "--roles", "checked")[0] == 0
    plate = ("--material", "S275", "--thickness", "10 mm", "--process", "laser", "--quantity", "2")
    for name in ("BASE", "TURN"):
        assert said("part", name, *plate)[0] == 0
        assert said("take", name, f"{name}.dxf")[0] == 0
        assert said("group", name, "bolts", "H1", "H2", "H3", "H4")[0] == 0
        assert said("dimension", name, "width", "200 mm", "--limits", "±0.2", "--on", "width")[0] == 0
    assert (
        said(
            "connect", "T-B", "bolted", "TURN:bolts", "BASE:bolts", "--fastener", "M12", "--joint", "through"
        )[0]
        == 0
    )
    code, verdict = said("verdict", "BASE")
    assert (code, verdict["verdict"]) == (1, "NO-GO")
    assert [v["part"] for v in verdict["verdicts"]] == ["BASE"]
    assert {s["code"] for s in verdict["verdicts"][0]["stops"]} == {"role_missing", "partner_open"}
    assert said("sign", "BASE", "TURN", "--role", "drawn")[0] == 0
    assert said("sign", "BASE", "TURN", "--role", "checked", "--by", "Jonas")[0] == 0
    code, locked = said("lock", "BASE", "TURN", "--out", "out", "--by", "Jonas")
    assert code == 0
    assert said("verify")[0] == 0
    assert said("verify", locked["packet"])[0] == 0
    assert said("verify", "BASE.dxf")[1]["state"] == "locked"
    (here / "other.dxf").write_bytes(plate_dxf(width=201.0))
    assert said("verify", "other.dxf")[0] == 1
    data = bytearray((here / locked["packet"]).read_bytes())
    data[len(data) // 2] ^= 1
    (here / "bad.zip").write_bytes(data)
    assert said("verify", "bad.zip")[0] in (3, 4)
    for reading in (
        ("parts",),
        ("people",),
        ("connections",),
        ("journal",),
        ("show", "BASE"),
        ("checks",),
        ("verdict", "BASE", "TURN"),
    ):
        assert said(*reading)[0] == 0, reading
    assert main(["verdict", "BASE"]) == 0
    assert "not checked" in capsys.readouterr().out


def test_lock_refuses_with_the_stops_of_the_verdict(here, said):
    (here / "BASE.dxf").write_bytes(plate_dxf())
    said("start", "Pier mount")
    said("enroll", "Mira")
    said("part", "BASE")
    said("take", "BASE", "BASE.dxf")
    _, verdict = said("verdict", "BASE")
    code, refusal = said("lock", "BASE", "--out", "out")
    assert code == 1
    assert refusal["verdicts"] == verdict["verdicts"]
    assert refusal["verdict"] == verdict["verdict"] == "NO-GO"
    said("part", "TURN")
    _, both = said("verdict", "BASE", "TURN")
    assert both.keys() == verdict.keys()
    assert [v["part"] for v in both["verdicts"]] == ["BASE", "TURN"]
    assert refusal["error"]["exit"] == 1


def test_look_gives_the_keys_that_scripts_rely_on(here, said):
    slot = Hole("", ((60.0, 50.0), (80.0, 50.0)), 9.0)
    outline = Contour(((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 100.0, 0.0), (0.0, 100.0, 0.0)))
    (here / "a.dxf").write_bytes(write_dxf(outline, (Hole("", ((20.0, 20.0),), 13.5), slot), ()))
    code, seen = said("look", "a.dxf")
    assert code == 0
    assert seen["usable"] is True
    assert seen["unit"] == {"header": "mm", "used": "mm", "sure": True}
    assert seen["size_mm"] == [200.0, 100.0]
    assert (seen["outlines"], seen["openings"]) == (1, [])
    cores = sorted(json.dumps(h["core_mm"]) for h in seen["holes"])
    assert "null" in cores
    assert any("60.0" in c for c in cores)


def test_a_stated_unit_wins_over_the_header_and_is_told_where_the_headers_is_plausible(here, said):
    (here / "a.dxf").write_bytes(plate_dxf())
    code, seen = said("look", "a.dxf", "--unit", "in")
    assert (code, seen["usable"]) == (1, False)
    assert seen["size_mm"] == [5080.0, 2540.0]
    assert "unit_differs" in {f["code"] for f in seen["findings"]}


@pytest.mark.parametrize(
    "data",
    [b"", b"hello", b"AC1027" + b"\0" * 200, plate_dxf()[: len(plate_dxf()) // 2]],
    ids=["empty", "text", "DWG", "truncated"],
)
def test_what_is_no_dxf_cannot_be_read(here, said, data):
    (here / "a.dxf").write_bytes(data)
    (here / "b.dxf").write_bytes(plate_dxf())
    for words in (("look", "a.dxf"), ("fit", "a.dxf", "b.dxf", "--fastener", "M12")):
        code, answer = said(*words)
        assert code == 3
        assert answer["error"]["message"]


def test_fit_says_go_and_no_go_with_the_move(here, said):
    (here / "a.dxf").write_bytes(plate_dxf())
    (here / "b.dxf").write_bytes(plate_dxf(((20.0, 20.0), (184.0, 20.0), (180.0, 80.0), (20.0, 80.0))))
    code, same = said("fit", "a.dxf", "a.dxf", "--fastener", "M12")
    assert (code, same["verdict"]) == (0, "GO")
    assert same["margin_mm"] == pytest.approx(1.5)
    code, off = said("fit", "a.dxf", "b.dxf", "--fastener", "M12")
    assert (code, off["verdict"]) == (1, "NO-GO")
    assert len(off["wrong"]) == 1
    assert len(off["pairs"]) == 3


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("nonsense",),
        ("look",),
        ("fit", "a.dxf"),
        ("sign", "BASE", "--role"),
        ("look", "a.dxf", "--nonsense"),
    ],
)
def test_wrong_usage_is_exit_2_and_still_one_object(here, said, words):
    code, answer = said(*words)
    assert code == 2
    assert answer["error"]["exit"] == 2


def test_an_unknown_fastener_names_the_nearest(here, said):
    (here / "a.dxf").write_bytes(plate_dxf(CORNERS))
    code, answer = said("fit", "a.dxf", "a.dxf", "--fastener", "M13")
    assert code == 2
    assert "M12" in answer["error"]["message"]


def test_the_job_may_be_named_before_or_behind_the_command(here, said):
    assert said("start", "Pier mount", "--job", "other.db")[0] == 0
    assert said("--job", "other.db", "parts")[0] == 0
    assert said("parts", "--job", "other.db")[0] == 0
    assert said("parts")[0] == 2


def test_nothing_that_acts_on_a_terminal_comes_out(here, said, capsys):
    said("start", "Pier mount")
    said("part", "BASE", "--title", "\x1b[31mred\x1b]0;owned\x07")
    main(["parts"])
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\\u001b" in out


def test_pins_and_bolts_are_declared_in_one_connection_and_judged_where_the_pins_hold(here, said):
    said("start", "Pier mount")
    plate = ("--material", "S275", "--thickness", "10 mm", "--process", "machined", "--quantity", "1")
    for name, pin in (("BASE", 6.0), ("TURN", 7.0)):
        holes = [Hole(f"H{n}", ((x, y),), 13.5) for n, (x, y) in enumerate(CORNERS, 1)]
        holes += [Hole("P1", ((60.0, 50.0),), pin), Hole("P2", ((130.0, 45.0),), pin)]
        ring = Contour(((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 100.0, 0.0), (0.0, 100.0, 0.0)))
        (here / f"{name}.dxf").write_bytes(write_dxf(outline=ring, holes=holes))
        said("part", name, *plate)
        _, taken = said("take", name, f"{name}.dxf")
        small = [h["label"] for h in said("look", f"{name}.dxf")[1]["holes"] if h["diameter_mm"] < 10]
        assert len(small) == 2, taken
        assert said("group", name, "PINS", *small)[0] == 0
    connection = ("connect", "T-B", "bolted", "TURN", "BASE", "--fastener", "M12", "--joint", "through")
    code, refused = said(*connection, "--position", "pins")
    assert code == 2
    assert "names none" in refused["error"]["message"]
    code, refused = said(*connection, "--also", "M6 dowel PINS on NUTS")
    assert code == 2
    assert "NUTS" in refused["error"]["message"]
    assert said(*connection, "--also", "M6 dowel PINS on PINS", "--position", "pins")[0] == 0
    (declared,) = said("connections")[1]["connections"]
    assert declared["also"] == [{"fastener": "M6", "joint": "dowel", "groups": ["PINS", "PINS"]}]
    _, verdict = said("verdict", "TURN")
    assert any(
        n["code"] == "fits" and "0.500 mm nominal" in n["message"] for n in verdict["verdicts"][0]["notes"]
    )


def test_a_value_that_begins_with_a_minus_is_no_option(here, said):
    said("start", "Pier mount")
    said("enroll", "Mira")
    said("part", "BASE")
    assert said("dimension", "BASE", "bore", "12 mm", "--limits", "+0.1/-0.2")[0] == 0
    code, refused = said("dimension", "BASE", "bore", "12 mm", "--limits", "-0.2/+0.1")
    assert code == 2
    assert "write the upper limit first" in refused["error"]["message"]
    code, refused = said("dimension", "BASE", "bore", "12 mm", "--limits", "0.2..-0.2")
    assert "two sizes" in refused["error"]["message"]


def test_a_size_with_its_class_is_a_dimension_with_limits(here, said):
    said("start", "Pier mount")
    said("enroll", "Mira")
    said("part", "BASE")
    assert said("dimension", "BASE", "bore", "12H7")[0] == 0
    assert said("dimension", "BASE", "pin", "12 mm", "--limits", "12H7")[0] == 0
    bore, pin = said("show", "BASE")[1]["dimensions"]
    assert bore["nominal"]["mm"] == pin["nominal"]["mm"] == "12"
    assert bore["upper_mm"] == pin["upper_mm"] == "0.018"


def test_the_policy_is_shown_and_only_what_is_named_of_it_is_set(here, said, capsys):
    said("start", "Pier mount")
    said("enroll", "Mira")
    permits = ["checked", "approved"]
    shown = {"entry": None, "roles": ["drawn", "checked"], "raised": [], "odds": "99", "permits": permits}
    assert said("policy") == (0, shown)
    code, told = said("policy", "--raise", "tab_tight")
    assert (code, told["roles"], told["raised"]) == (0, ["drawn", "checked"], ["tab_tight"])
    assert told["entry"] > 1
    assert said("policy", "--roles", "drawn")[1]["raised"] == ["tab_tight"]
    assert said("policy", "--raise", "")[1]["raised"] == []
    code, told = said("policy", "--raise", "tab_tigth")
    assert code == 2
    assert "tab_tight" in told["error"]["message"]
    assert main(["policy"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "must sign:          drawn",
        "may permit:         checked, approved",
        "warnings that stop: none",
        "odds of holes:      99 %",
    ]
    assert said("policy", "--odds", "99.5")[1]["odds"] == "99.5"
    assert main(["policy", "--odds", "worst case"]) == 0
    assert "every limit at once" in capsys.readouterr().out
    assert said("policy", "--odds", "100")[0] == 2


def test_show_tells_permits_and_revisions(bench, capsys):
    from ledger.acts.parts import NewRevision
    from ledger.acts.questions import AskQuestion

    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="BASE", reason="a wider slot")
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    bench.job.permit("BASE", "Jonas", code="question_open", place="Q1", reason="it stays bare", until="")
    assert main(["--job", bench.place, "show", "BASE", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (permit,) = told["permits"]
    assert (permit["code"], permit["person"], permit["sound"]) == ("question_open", "Jonas", True)
    assert [(r["revision"], r["locked"]) for r in told["revisions"]] == [("A", True), ("B", False)]
    assert main(["--job", bench.place, "show", "BASE"]) == 0
    words = capsys.readouterr().out
    assert "code question_open, where Q1, reason it stays bare, person Jonas" in words
    assert "revision B, reason a wider slot" in words


def test_the_kinds_of_parts_that_do_not_touch_are_pictured_in_help_and_readme(capsys):
    with pytest.raises(SystemExit):
        build_parser().parse_args(["connect", "--help"])
    pictured = capsys.readouterr().out
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert PICTURES in pictured
    assert PICTURES in readme
    assert [k for k in CONNECTION_KINDS if f"\n{k}: A " in "\n" + PICTURES] == [
        "beside",
        "passes through",
        "inside",
    ]


def test_why_tells_the_sum_and_every_fix_of_one_finding(here, said, capsys):
    (here / "BASE.dxf").write_bytes(plate_dxf())
    said("start", "Pier mount")
    said("part", "BASE")
    said("take", "BASE", "BASE.dxf")
    _, verdict = said("verdict", "BASE")
    stop = verdict["verdicts"][0]["stops"][0]
    code, told = said("why", "BASE", stop["code"])
    assert code == 0
    assert told["findings"][0]["message"] == stop["message"]
    code, refused = said("why", "BASE", "no_such_code")
    assert code == 2
    assert stop["code"] in refused["error"]["message"]
    assert main(["why", "BASE", stop["code"]]) == 0
    assert stop["fix"].split("; ")[0] in capsys.readouterr().out


def test_the_short_verdict_has_every_stop_and_all_of_it_every_matter(here, said, capsys):
    (here / "BASE.dxf").write_bytes(plate_dxf())
    said("start", "Pier mount")
    said("part", "BASE")
    said("take", "BASE", "BASE.dxf")
    _, verdict = said("verdict", "BASE")
    (judged,) = verdict["verdicts"]
    assert main(["verdict", "BASE"]) == 1
    short = capsys.readouterr().out
    assert main(["verdict", "BASE", "--all"]) == 1
    full = capsys.readouterr().out
    assert all(s["headline"] in short or s["code"] == "role_missing" for s in judged["stops"])
    assert all(matter in full for matter in judged["not_checked"])
    assert len(short.splitlines()) < len(full.splitlines())


def test_the_version_is_that_of_the_package(capsys):
    from importlib.metadata import version

    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"fitup {version('fitup')}\n"


def test_the_warnings_of_a_signature_stand_before_its_passphrase_is_asked_for(bench, capsys, monkeypatch):
    """Whoever signs has seen what the signature acknowledges; once it is signed they are not told again."""
    from ledger.cli import context

    seen = []

    def asked(_name):
        seen.append(capsys.readouterr().out)
        return PASSPHRASE

    monkeypatch.setattr(context, "ask_passphrase", asked)
    for number, width in (("LID", 200.0), ("CAP", 201.0)):  # hard to tell from each other
        bench.plate(number, plate_dxf(width=width), unconnected=True, etched="")
    assert [w.code for w in bench.job.verdicts(["LID"])[0].warnings]
    bench.job.close()
    assert main(["--job", bench.place, "--by", "Mira", "sign", "LID", "--role", "drawn"]) == 0
    behind = capsys.readouterr().out
    assert seen[0].count("  acknowledges ") > 0
    assert "acknowledges" not in behind
    assert "Mira signed as drawn" in behind
