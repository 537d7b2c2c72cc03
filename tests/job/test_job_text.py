"""The job as text: what is written reads back as the same job, and whatever does not read says where and why."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import tomlkit
from bench_job import bent_dxf, plate_dxf
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_job import MovingClock, ask

from ledger.acts import ACTS
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.record import OPERATIONS
from ledger.job import Job
from ledger.job_text.kinds import LEFT_OUT

pytestmark = pytest.mark.file_only

EVERYTHING = """
here_by = "2027-05-03"
file_names = "{number}_{thickness}"

[vendors]
"Kerf & Son" = "laser; lead 10 days; Mon..Thu; off 2026-12-24..2026-12-26"

[bend_data]
"Kerf & Son: 3 mm of S235" = "R 3 mm, K 0.44"

[instruments]
"caliper 7" = "caliper, resolution 0.01 mm, limit 0.02 mm, calibrated 2026-01-31, 12 months"

[parts.BASE]
title = "Base plate"
material = "S275"
thickness = "1/2 in"
process = "laser"
per_assembly = 2
spares = 1
coating = "hot-dip zinc"
coating_thickness = "85 um"
masked = "top"
grain = "along the length"
vendor = "Kerf & Son"
note = "said [red]once[/red]"
drawing = { file = "BASE.dxf" }
groups.bolts = "H1 H2 H3 H4"
operations.H1 = "tapped M8"
dimensions.width = "200 mm ±0.2, on width"
dimensions."half, or so" = { nominal = "width/2", limits = "±0.5", source = "calculated" }
questions.Q1 = { ask = "which face; and why?", links = "holds up LID; needed by 2027-01-01" }
questions.Q2 = { ask = "zinc?", answer = "yes" }

[parts.LID]
form = "bought"
unconnected = false
thickness = "6 mm"
holes.H1 = "10 mm, -20 mm, 9 mm, given"
holes.H2 = "60 mm, -20 mm, 9 mm, ±0.3 mm, measured"
groups.both = { labels = ["H1", "H2"] }
dimensions.reach = "40 mm, measured ±0.05 mm caliper"

[parts.PIER]
form = "site"
points.P1 = ""
points.P2 = "12 mm"
points.P3 = "12 mm, left of P1 P2"
points.P4 = "at 0 mm, 0 mm, 5 mm ±0.5 mm"
distances."P1 P2" = "1532 1533 mm tape"

[connections]
LID-BASE = "bolted M8 through, LID both on BASE, turned over"
"odd: one, two" = { connection_kind = "beside", plies = ODD, turned_over = "no" }

[bolts]
LID-BASE = "40 mm, 2 washers"

[clearances.LID-BASE]
"lid to pier" = ">= 3 mm, critical"

[readings.LID-BASE]
"lid to pier" = "3.8 mm ±0.1 mm feeler"

[on_hand]
"bolt M8 x 30 mm" = 12

[after]
LID = ["BASE"]
"""
ODD = ", ".join(f'{{ part = "{part}", group = "", face_up = "top" }}' for part in ("LID", "BASE"))
EVERYTHING = EVERYTHING.replace("ODD", f"[ {ODD} ]")


BENT = """
[parts.WALL]
material = "S235"
thickness = "3 mm"
process = "laser"
drawing = { file = "WALL.dxf", unit = "mm", vendor = "Kerf & Son" }
groups.lower = "H1"
groups.upper = "H2 from lower"
bends.B1 = "90 deg up, R 3 mm, K 0.44"
bends.B2 = "45 deg down, R 1/8 in, allowance 6.2 mm, ±0.5 mm"
"""


@pytest.fixture
def empty(tmp_path):
    """A job with nothing in it, and a folder with a drawing beside its text."""
    (tmp_path / "BASE.dxf").write_bytes(plate_dxf())
    (tmp_path / "WALL.dxf").write_bytes(bent_dxf(points=((20.0, 50.0), (180.0, 50.0))))
    job = Job.start(str(tmp_path / "new.db"), "Pier mount", ask, MovingClock())
    yield job
    job.close()


def entered(job, text, beside, **more):
    return job.record_text(text.encode(), Path(beside), by="Mira", **more)


def looked(job, text, beside=".", **more):
    return [c.words for c in job.look_at_text(text.encode(), Path(beside), by="Mira", **more).changes]


def test_every_act_is_entered_by_the_text_or_it_is_said_why_not(empty, tmp_path):
    """Each is done by reading a text, or stands on the list of what is left out with its reason."""
    entered(empty, EVERYTHING, tmp_path)
    more = EVERYTHING.replace('thickness = "6 mm"', 'thickness = "8 mm"').replace(
        "holds up LID", "holds up PIER"
    )
    entered(empty, more.replace("[parts.LID]", BENT + "\n[parts.LID]"), tmp_path)
    less = {number: {} for number in ("BASE", "WALL")}
    less["BASE"] = {"operations": {}, "groups": {}, "dimensions": {}}
    less["WALL"] = {"bends": {}}
    entered(empty, tomlkit.dumps({"parts": less}), tmp_path)
    fewer = {"parts": {"BASE": {}}, "readings": {"LID-BASE": {"lid to pier": "3.8 mm ±0.1 mm feeler"}}}
    with pytest.raises(BadInput, match=r"is not in the file|is recorded and not"):
        entered(empty, tomlkit.dumps(fewer), tmp_path, whole=True)
    known, done = {kind for kind, _version in ACTS}, {e.kind for e in empty.journal()}
    elsewhere = {"remove_connection", "remove_clearance"}  # by the next test
    assert set(LEFT_OUT) < known
    assert done - {"open_job", "take_profile"} == known - set(LEFT_OUT) - elsewhere - {"remove_distance"}


def test_what_is_not_in_a_whole_text_goes(empty, tmp_path):
    text = EVERYTHING[: EVERYTHING.index("[readings")]
    entered(empty, text, tmp_path)
    less = text.replace('"odd', '# "odd').replace('LID-BASE = "40', '# "40').replace('"lid to', '# "lid to')
    assert looked(empty, less, tmp_path) == []
    assert [line.split(":")[0] for line in looked(empty, less, tmp_path, whole=True)] == [
        "connection odd",
        "bolts of LID-BASE",
        "clearance lid to pier of LID-BASE",
    ]
    entered(empty, less, tmp_path, whole=True)
    assert {"remove_connection", "remove_clearance"} <= {e.kind for e in empty.journal()}
    assert [(c.name, c.bolt_length, c.clearances) for c in empty.connections()] == [("LID-BASE", None, ())]


def test_a_reading_does_not_go_because_a_text_leaves_it_out(empty, tmp_path):
    entered(empty, EVERYTHING, tmp_path)
    for old, what in (
        ('distances."P1 P2" = "1532 1533 mm tape"', "distance P1 P2 of PIER"),
        ('holes.H2 = "60 mm, -20 mm, 9 mm, ±0.3 mm, measured"', "hole H2 of LID"),
    ):
        kind = old.partition(".")[0]
        with pytest.raises(BadInput, match=f"{what} is recorded and not in the file"):
            looked(empty, EVERYTHING.replace(old, f"{kind} = {{}}" if kind == "distances" else ""), tmp_path)


def test_the_text_of_everything_makes_the_same_job_anew(empty, tmp_path):
    entered(empty, EVERYTHING, tmp_path)
    text = empty.text()
    assert looked(empty, text) == []
    assert looked(empty, EVERYTHING, tmp_path) == []
    assert empty.text(text.encode()) == text
    with Job.start(str(tmp_path / "other.db"), "Pier mount", ask, MovingClock()) as other:
        entered(other, text, tmp_path)
        assert other.text() == text
        assert other.part("BASE").holes == empty.part("BASE").holes
        assert other.part("BASE").dimensions == empty.part("BASE").dimensions


NAME = st.text("ABCxyz 12-_.,;:=[]{}'\"#ä±/", min_size=1, max_size=8).map(str.strip).filter(bool)
WORDS = st.text("ABC xyz 12-_.,;:=[]{}'\"#ä±/\\", max_size=12).map(lambda t: " ".join(t.split()))
LENGTH = st.sampled_from(["12 mm", "3/16 in", "0.5in", "1 1/2 in", "20.50 mm", "9mm"])
LIMITS = st.sampled_from(["", "±0.2", "±0.01 in", "+0.1 -0.2", "min", "ISO 2768-m", "h7"])
FIELDS = st.fixed_dictionaries(
    {},
    optional={
        "title": WORDS,
        "material": WORDS,
        "thickness": LENGTH,
        "quantity": st.integers(1, 20),
        "etched": NAME,
        "coating": WORDS,
        "coating_thickness": LENGTH,
        "density": st.just("7850 kg/m3"),
        "grain": WORDS,
        "unconnected": st.booleans(),
        "note": WORDS,
    },
)
DIMENSION = st.tuples(
    NAME, LENGTH, LIMITS, st.booleans(), st.booleans(), st.sampled_from(["given", "assumed"])
)
ONE_PART = st.tuples(
    FIELDS, st.lists(DIMENSION, max_size=3, unique_by=lambda d: d[0]), st.lists(WORDS, max_size=2)
)


def made(job, parts, names, operation):
    """A job of random parts with holes, groups, dimensions and questions, each laid on the one before."""
    for at, (fields, dimensions, questions) in enumerate(parts):
        number = f"P{at}"
        job.write_part(number, {"form": "bought", **fields}, by="Mira")
        for k in range(2):
            place = {"x": f"{40 * k} mm", "y": "1/2 in", "diameter": "9 mm"}
            job.enter("RecordHole", by="Mira", number=number, label=f"H{k}", source="given", **place)
        job.name_group(number, names[0], ("H0", "H1"), by="Mira")
        job.enter("RecordOperation", by="Mira", number=number, labels=("H0",), **operation)
        for name, nominal, limits, frozen, critical, source in dimensions:
            said = {
                "nominal": nominal,
                "limits": limits,
                "source": source,
                "frozen": frozen,
                "critical": critical,
            }
            job.record_dimension(by="Mira", number=number, name=name, **said)
        for k, words in enumerate(filter(None, questions)):
            job.enter("AskQuestion", by="Mira", number=number, ident=f"Q{k}", text=words)
        if at:
            plies = tuple({"part": f"P{n}", "group": names[0], "face_up": "top"} for n in (at, at - 1))
            how = {"connection_kind": "bolted", "fastener": "M8", "joint": "through", "turned_over": "either"}
            job.enter("RecordConnection", by="Mira", name=f"{names[1]}{at}", plies=plies, **how)
            bounds = {"name": names[2], "required": ">= 3 mm"}
            job.enter("RequireClearance", by="Mira", connection=f"{names[1]}{at}", **bounds)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    parts=st.lists(ONE_PART, min_size=1, max_size=3),
    names=st.tuples(NAME, NAME, NAME),
    operation=st.sampled_from(
        [{"operation": o, "thread": "M8" if o == "tapped" else ""} for o in OPERATIONS[:2]]
    ),
)
def test_any_job_reads_back_from_its_text(tmp_path_factory, parts, names, operation):
    folder = tmp_path_factory.mktemp("text")
    with (
        Job.start(str(folder / "a.db"), "Pier mount", ask, MovingClock()) as job,
        Job.start(str(folder / "b.db"), "Pier mount", ask, MovingClock()) as other,
    ):
        made(job, parts, names, operation)
        text = job.text()
        assert looked(job, text) == []
        assert job.text(text.encode(), by="Mira") == text
        entered(other, text, folder)
        assert other.text() == text
        assert looked(other, text) == []


def test_comments_and_spellings_stay_when_the_text_is_written_over(empty, tmp_path):
    said = EVERYTHING.replace('title = "Base plate"', 'title = "Base plate"  # Ana named it').replace(
        'H1 H2 H3 H4"', 'H1, H2,  H3 H4" # all of them'
    )
    entered(empty, said, tmp_path)
    assert looked(empty, said, tmp_path) == []
    empty.write_part("BASE", {"title": "Foot"}, by="Mira")
    over = empty.text(said.encode(), tmp_path, by="Mira")
    assert 'title = "Foot"  # Ana named it' in over or 'title = "Foot" # Ana named it' in over
    assert 'groups.bolts = "H1, H2,  H3 H4" # all of them' in over
    assert looked(empty, over, tmp_path) == []
    assert empty.text(over.encode(), tmp_path, by="Mira") == over


def test_all_of_it_or_nothing(empty, tmp_path):
    before = empty.seal()
    with pytest.raises(BadInput, match=r"line \d+, column 1: operation of H9 of BASE"):
        entered(empty, EVERYTHING.replace("operations.H1", "operations.H9"), tmp_path)
    assert empty.seal() == before
    assert looked(empty, EVERYTHING, tmp_path)[0].startswith("here by: new, 2027-05-03")
    assert empty.seal() == before
    assert empty.parts() == ()


def test_a_reading_is_never_written_over(empty, tmp_path):
    entered(empty, EVERYTHING, tmp_path)
    for old, new, what in (
        ("1532 1533 mm tape", "1540 mm tape", "distance P1 P2 of PIER"),
        ("60 mm, -20 mm", "61 mm, -20 mm", "hole H2 of LID"),
        ("40 mm, measured", "41 mm, measured", "dimension reach of LID"),
        ("3.8 mm ±0.1", "2.8 mm ±0.1", "reading of lid to pier of LID-BASE"),
        ("5 mm ±0.5 mm", "6 mm ±0.5 mm", "point P4 of PIER"),
    ):
        with pytest.raises(BadInput, match=f"{what} is recorded as read"):
            looked(empty, EVERYTHING.replace(old, new), tmp_path)


LONG = 'title = "' + "x" * 5_000_001 + '"'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "[part.BASE]",
            "line 1, column 1: 'part' is nothing that a text of the job has here; the nearest is parts",
        ),
        ("\n[parts.BASE]\n  tittle = 'x'", "line 3, column 3: 'tittle' is nothing.*the nearest is title"),
        ("[parts.BASE]\nquantity = 'two'", "line 2, column 1: .*expected a whole number"),
        ("[parts.BASE]\ntitle = 3", "line 2, column 1: .*expected a text in quotation marks"),
        ("[parts.BASE]\nunconnected = 'yes'", "expected true or false"),
        ("[parts.BASE]\nthickness = '12 furlongs'", "line 2, column 1: thickness of BASE: .*furlongs"),
        ("parts = 3", "line 1, column 1: read '3' for parts; expected a table"),
        ("[parts]\nBASE = 'x'", "line 2, column 1: read 'x' for BASE; expected a table"),
        ("[parts.BASE]\ngroups = 'bolts'", "line 2, column 1: read 'bolts' for groups; expected a table"),
        (
            "[parts.BASE]\ngroups.bolts = 3",
            "line 2, column 1: read '3' as hole group bolts of BASE; expected a text",
        ),
        ("[parts.BASE]\n[parts.BASE]", "line 2, column 1: parts.BASE stands in line 1 already; keep one"),
        (
            "[parts.BASE]\ntitle = 'a'\ntitle = 'b'",
            "line 3, column 1: parts.BASE.title stands in line 2 already",
        ),
        ("[[parts]]\n[[parts]]", "stands in line 1 already"),
        ("here_by = 'soon'", "line 1, column 1: here by: .*soon"),
        ("here_by = 3", "line 1, column 1: expected a text"),
        ("[connections]\nA-B = 'bolted M8 through, A on B'", "line 2, column 1: connection A-B: no part 'A'"),
        ("[bolts]\nA-B = '40 mm'", "line 2, column 1: bolts of A-B: no connection 'A-B'"),
        ("[after]\nA = 'B'", "line 2, column 1: waits of A: expected a list"),
        ("[on_hand]\n'bolt M8 x 30 mm' = 'many'", "expected a whole number of pieces"),
        ("[policy]\nroles = ['drawn']", "line 2, column 1: the policy is signed by a keeper"),
        (
            "[parts.A]\ndrawing = { file = 'no.dxf' }",
            "line 2, column 1: drawing of A: no.dxf is not beside the file",
        ),
        ("[parts.A]\ndrawing = 'no.dxf'", "line 2, column 1: drawing of A: expected"),
        (
            "[parts.A]\ndimensions.a = 'b/2, calculated'\ndimensions.b = 'a*2, calculated'",
            r"line 2, column 1: a ring: A\.a from A\.b from A\.a; one of them needs a value of its own",
        ),
        ("x = ", "line 1, column .*: this is no TOML"),
        ("x", "this is no TOML"),
        ('a = "\n', "this is no TOML"),
        (LONG, "expected the text of a job, 5000000 at most"),
    ],
)
def test_what_does_not_read_says_where_and_why(empty, tmp_path, text, said):
    with pytest.raises(BadInput, match=said):
        looked(empty, text, tmp_path)


def test_other_bytes_than_text_are_told(empty, tmp_path):
    with pytest.raises(BadInput, match="line 2: this is no UTF-8; save the file as UTF-8"):
        empty.look_at_text(b"# \xc3\xa4\n# \xe4\n", tmp_path, by="Mira")


def test_another_drawing_than_the_text_names_is_not_taken(empty, tmp_path):
    text = EVERYTHING.replace('file = "BASE.dxf"', f'file = "BASE.dxf", sha256 = "{"0" * 64}"')
    with pytest.raises(
        BadInput, match=r"drawing of BASE: BASE.dxf beside the file has other bytes than it names"
    ):
        looked(empty, text, tmp_path)


def test_a_locked_part_is_not_changed_by_a_text(bench):
    bench.lock("BASE", "TURN")
    text = bench.job.text()
    before = bench.job.seal()
    with pytest.raises(BadInput, match="title of BASE: BASE revision A is locked and never changes"):
        bench.job.record_text(
            text.replace("[parts.BASE]\n", '[parts.BASE]\ntitle = "x"\n', 1)
            .replace('title = "x"\ntitle', 'title = "x"\n#', 1)
            .encode(),
            bench.folder,
            by="Mira",
        )
    assert bench.job.seal() == before


def test_line_ends_of_windows_and_a_mark_in_front(empty, tmp_path):
    text = EVERYTHING.replace("\n", "\r\n")
    assert empty.record_text(b"\xef\xbb\xbf" + text.encode(), tmp_path, by="Mira").changes
    over = empty.text(b"\xef\xbb\xbf" + text.encode(), tmp_path, by="Mira")
    assert "\r\n" in over
    assert "\n" not in over.replace("\r\n", "")
    assert looked(empty, over, tmp_path) == []


def test_bends_and_groups_that_are_placed_over_them(empty, tmp_path):
    entered(empty, BENT, tmp_path)
    assert looked(empty, BENT, tmp_path) == []
    wall = empty.part("WALL")
    assert (len(wall.bends), wall.group("upper").reference) == (2, "lower")
    text = empty.text()
    assert looked(empty, text) == []
    with Job.start(str(tmp_path / "other.db"), "Pier mount", ask, MovingClock()) as other:
        entered(other, text, tmp_path)
        assert (other.text(), other.part("WALL").bends) == (text, wall.bends)


def test_a_text_is_written_read_and_recorded_by_commands(empty, tmp_path, capsys):
    entered(empty, EVERYTHING, tmp_path)
    empty.close()
    job, file = ["--job", str(tmp_path / "new.db"), "--by", "Mira"], tmp_path / "job.toml"
    assert main([*job, "write", "-o", str(file)]) == 0
    file.write_text(file.read_text("utf-8").replace('title = "Base plate"', 'title = "Foot"'), "utf-8")
    capsys.readouterr()
    assert main([*job, "read", str(file)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "title of BASE: Base plate -> Foot",
        "1 change; nothing was recorded: --record records it",
    ]
    assert main([*job, "--json", "read", str(file), "--record"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["recorded"], said["changes"][0]["after"]) == (True, "Foot")
    assert main([*job, "read", str(file), "--record"]) == 0
    assert capsys.readouterr().out == "the job is as the file says; nothing to record\n"
    assert main([*job, "--json", "write"]) == 0
    assert json.loads(capsys.readouterr().out)["text"] == file.read_text("utf-8")


def known_by(schema, value, where=""):
    """Every key of a text that a schema does not know."""
    if isinstance(value, dict):
        of = schema.get("properties", {})
        rest = schema.get("additionalProperties", True)
        for key, inner in value.items():
            if key in of:
                yield from known_by(of[key], inner, f"{where}.{key}")
            elif rest is False:
                yield f"{where}.{key}"
            elif isinstance(rest, dict):
                yield from known_by(rest, inner, f"{where}.{key}")
    kinds = schema.get("type", [])
    is_a = {"string": str, "integer": int, "boolean": bool, "object": dict, "array": list}
    if kinds and not isinstance(
        value, tuple(is_a[k] for k in ([kinds] if isinstance(kinds, str) else kinds))
    ):
        yield f"{where}: {value!r} is no {kinds}"


def test_the_schema_knows_every_key_of_a_text(empty, tmp_path):
    entered(empty, EVERYTHING, tmp_path)
    schema = Job.text_schema()
    values = tomlkit.parse(empty.text()).unwrap()
    assert list(known_by(schema, values)) == []
    assert list(known_by(schema, {"parts": {"A": {"tittle": "x", "quantity": "2"}}})) == [
        ".parts.A.tittle",
        ".parts.A.quantity: '2' is no integer",
    ]
