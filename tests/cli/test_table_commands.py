"""Tables of dimensions and clearances: previewed row by row, recorded whole or not at all, and back out again."""

from __future__ import annotations

import csv
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.tables.text import MOST_BYTES, MOST_ROWS, read_table, write_table

seal = "part,name,nominal,limits\n"


def states(bench, text):
    data = text if isinstance(text, bytes) else text.encode()
    return [(row.state, row.line) for row in bench.job.preview_table(data).rows]


def only(bench, text):
    (row,) = bench.job.preview_table(text.encode()).rows
    return row


def entries(bench):
    return len(list(bench.job.journal()))


def stored(bench, number="TURN"):
    return {d.name: d for d in bench.job.part(number).dimensions}


@pytest.fixture
def said(bench, monkeypatch, capsys):
    monkeypatch.chdir(bench.folder)
    monkeypatch.setenv("FITUP_BY", "Mira")

    def run(*words):
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return run


def test_each_row_is_new_changed_or_unchanged_and_nothing_is_written_yet(bench):
    before = entries(bench)
    found = bench.job.preview_table(
        (seal + "TURN,width,200 mm,±0.2\nTURN,height,101 mm,±0.2\nTURN,lip,3/16 in,±0.01\n").encode()
    )
    assert [r.state for r in found.rows] == ["unchanged", "changed", "new"]
    assert found.rows[1].changes[0].words == "nominal: 100 mm -> 101 mm"
    assert found.rows[2].words == "3/16 in = 4.7625 mm ±0.01 in"
    assert found.words == "3 rows: 1 new, 1 changed, 1 unchanged, 0 wrong"
    assert entries(bench) == before


def test_a_column_that_is_not_there_leaves_what_stands(bench):
    bench.job.enter_table(b"part,name,nominal\nTURN,width,201 mm\n", by="Mira")
    width = stored(bench)["width"]
    assert (width.nominal.written, width.limits.written, str(width.measured_on)) == (
        "201 mm",
        "±0.2 mm",
        "width",
    )


def test_an_empty_cell_empties(bench):
    bench.job.enter_table(b"part,name,limits,measured_on\nTURN,width,,\n", by="Mira")
    assert (stored(bench)["width"].limits, stored(bench)["width"].measured_on) == (None, None)


def test_all_the_columns_of_a_dimension_are_recorded(bench):
    text = "part,name,nominal,limits,source,instrument,uncertainty,on,frozen,critical\n"
    text += 'TURN,lip,"3 mm","+0.2/-0.1",measured,caliper 7,0.05 mm,height,yes,x\n'
    bench.job.enter_table(text.encode(), by="Mira")
    lip = stored(bench)["lip"]
    assert (str(lip.limits.lower_mm), lip.source, lip.instrument) == ("-0.1", "measured", "caliper 7")
    assert (lip.uncertainty.written, str(lip.measured_on), lip.frozen, lip.critical) == (
        "0.05 mm",
        "height",
        True,
        True,
    )


WRONG = [
    ("TURN,lip,3,", "has no unit; write mm or in"),
    ("TURN,lip,,", "no nominal"),
    ("TURN,lip,3 kg,", "a mass, not a length"),
    ('TURN,lip,"3,5 mm",', "write 3.5 mm"),
    ("TURN,lip,=2+3,", "'=2+3' is not a length"),
    ("TURN,lip,+cmd|' /C calc'!A0,", "is not a length"),
    ("TURN,lip,@SUM(A1),", "is not a length"),
    ("TURN,lip,-3 mm,", "sign where none is expected"),
    ("TURN,lip,nan mm,", "not a length"),
    ("TURN,lip,3 mm,0.1", "is not limits"),
    ("TURN,lip,3 mm,3.1..3.2 mm", "outside its own limits"),
    ("TURN,,3 mm,", "an empty name"),
    ("TURM,lip,3 mm,", "TURN"),
    (",lip,3 mm,", "either a part or a connection"),
    ("TURN,lip,3 mm,±0.1,more", "no column has a name"),
]


@pytest.mark.parametrize(("line", "told"), WRONG)
def test_a_wrong_row_names_its_line_what_was_read_and_what_was_expected(bench, line, told):
    row = only(bench, seal + line + "\n")
    assert (row.state, row.line, row.acts) == ("wrong", 2, ())
    assert told in row.words


def test_a_yes_or_no_that_is_neither_is_wrong(bench):
    row = only(bench, "part,name,nominal,frozen\nTURN,lip,3 mm,maybe\n")
    assert "'maybe' as frozen; expected yes or no" in row.words


def test_a_row_about_a_locked_part_is_wrong_unless_it_changes_nothing(bench):
    bench.lock("BASE", "TURN")
    assert only(bench, seal + "TURN,width,200 mm,±0.2\n").state == "unchanged"
    assert "locked and never changes" in only(bench, seal + "TURN,width,201 mm,±0.2\n").words


def test_the_same_dimension_twice_is_wrong_in_both_places(bench):
    found = bench.job.preview_table((seal + "TURN,lip,3 mm,\nTURN,rim,3 mm,\nTURN,lip,4 mm,\n").encode())
    assert [r.state for r in found.rows] == ["wrong", "new", "wrong"]
    assert "the same as line 2" in found.rows[2].words


def test_line_numbers_count_blank_lines_and_lines_within_cells(bench):
    text = seal + '\nTURN,lip,3 mm,\nTURN,"ri\nm",3 mm,\n,,,\nTURN,rim,3 mm,\n'
    assert states(bench, text) == [("new", 3), ("wrong", 4), ("new", 7)]


def test_one_wrong_row_and_nothing_is_recorded(bench):
    before = entries(bench)
    text = (seal + "TURN,lip,3 mm,\nTURN,rim,3,\n").encode()
    with pytest.raises(BadInput, match="1 of 2 rows are wrong; line 3, TURN/rim"):
        bench.job.enter_table(text, by="Mira")
    assert entries(bench) == before
    bench.job.enter_table(text, by="Mira", only_good=True)
    assert entries(bench) == before + 1
    assert "lip" in stored(bench)
    assert bench.job.verify() == ()


def test_a_row_that_fails_while_recording_takes_all_before_it_back(bench, monkeypatch):
    before, real = entries(bench), bench.job._do

    def fail(facts, act, by):
        if act.name == "rim":
            raise BadInput("the second row fails late")
        return real(facts, act, by)

    monkeypatch.setattr(bench.job, "_do", fail)
    with pytest.raises(BadInput, match="late"):
        bench.job.enter_table((seal + "TURN,lip,3 mm,\nTURN,rim,3 mm,\n").encode(), by="Mira")
    assert entries(bench) == before
    assert "lip" not in stored(bench)


def test_a_table_is_not_recorded_over_a_change_made_since_the_preview(bench):
    text = (seal + "TURN,width,201 mm,±0.2\n").encode()
    seen = bench.job.preview_table(text)
    bench.do(
        RecordDimension, number="TURN", name="width", nominal="202 mm", limits="±0.2", measured_on="width"
    )
    with pytest.raises(BadInput, match="changed since the preview"):
        bench.job.enter_table(text, by="Mira", seen=seen)
    assert stored(bench)["width"].nominal.written == "202 mm"


def test_a_clearance_is_required_and_measured_in_one_row(bench):
    text = "connection,clearance name,required,measured,critical\nTURN-BASE,edge,>= 2 mm,2.8 ±0.1 mm feeler,yes\n"
    assert only(bench, text).state == "new"
    bench.job.enter_table(text.encode(), by="Mira")
    (edge,) = bench.job.connections()[0].clearances
    assert (edge.required.written, edge.critical, edge.reading.instrument) == (">= 2 mm", True, "feeler")
    assert {part for part, _, _ in edge.reading.against} == {"TURN", "BASE"}
    assert only(bench, text).state == "unchanged"


def test_an_empty_measured_cell_takes_no_reading_back(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "edge", "2.8 ±0.1 mm feeler", by="Mira")
    bench.job.enter_table(b"connection,clearance,required,measured\nTURN-BASE,edge,>= 3 mm,\n", by="Mira")
    (edge,) = bench.job.connections()[0].clearances
    assert (edge.required.written, edge.reading.value.written) == (">= 3 mm", "2.8 mm")


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("TURN-BASE,edge,,2.8 ±0.1 mm feeler", "no required clearance"),
        ("TURN-BASE,edge,2 mm,", "is not a required clearance"),
        ("TURN-BASE,edge,>= 2 mm,2.8 mm", "name what it was measured with"),
        ("TURN-BASE,edge,>= 2 mm,2.8 ±0.1 mm", "what it was measured with"),
        ("TURN-BASF,edge,>= 2 mm,", "TURN-BASE"),
    ],
)
def test_a_wrong_clearance_is_told(bench, cells, told):
    assert told in only(bench, f"connection,clearance,required,measured\n{cells}\n").words


def test_dimensions_and_clearances_may_share_a_table(bench):
    text = "part,name,nominal,connection,clearance,required\nTURN,lip,3 mm,,,\n,,,TURN-BASE,edge,>= 2 mm\n"
    assert states(bench, text) == [("new", 2), ("new", 3)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be-mark", "cp1252"])
def test_every_usual_encoding_is_read_and_the_unsure_one_is_told(bench, encoding):
    text = seal + "TURN,lip,3 mm,±0.1\n"
    data = b"\xfe\xff" + text.encode("utf-16-be") if "mark" in encoding else text.encode(encoding)
    found = bench.job.preview_table(data)
    assert (found.rows[0].state, found.rows[0].words) == ("new", "3 mm ±0.1 mm")
    assert bool(found.notes) == (encoding == "cp1252")


@pytest.mark.parametrize("mark", [",", "\t", ";"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_first_line_says_what_parts_the_cells(bench, mark, end):
    text = (seal + "TURN,lip,3 mm,±0.1\n").replace(",", mark).replace("\n", end)
    assert states(bench, text) == [("new", 2)]


def test_a_decimal_comma_in_a_table_with_semicolons_is_refused_with_what_to_write(bench):
    row = only(bench, "part;name;nominal\nTURN;lip;3,5 mm\n")
    assert (row.state, row.words) == ("wrong", "3,5 mm: write 3.5 mm")


WHOLE = [
    (b"", "is empty"),
    (b"\n \n", "is empty"),
    (seal.encode(), "no rows"),
    (b"part,name,nominel\nTURN,lip,3 mm\n", "nearest to it: nominal"),
    (b"part,nominal\nTURN,3 mm\n", "no column name"),
    (b"connection,required\nTURN-BASE,>= 2 mm\n", "no column clearance"),
    (b"name,nominal\nlip,3 mm\n", "no column part"),
    (b"part,part,name\nTURN,TURN,lip\n", "the column part is there twice"),
    (seal.encode() + b"TURN,l\0ip,3 mm,\n", "line 2 holds NUL"),
    ((seal + "TURN,lip,3 mm,\n").encode("utf-16-le"), "UTF-16 without its mark"),
    (b"\xff\xfe\x00", "is not; save it as UTF-8"),
    (seal.encode() + b"TURN,\x81,3 mm,\n", "in no encoding"),
    (seal.encode() + b"TURN," + b"x" * 5000 + b",3 mm,\n", "line 2 has 5011 characters"),
    (seal.encode() + b'TURN,"lip,3 mm,\n', "line 2"),
    (seal.encode() + b"TURN,lip,3 mm,\n" * 100_000, f"more than {MOST_ROWS} rows"),
    (b"x" * (MOST_BYTES + 1), "part it into several"),
]


@pytest.mark.parametrize(("data", "told"), WHOLE, ids=[t[:24] for _, t in WHOLE])
def test_what_is_no_table_is_refused_as_a_whole(bench, data, told):
    with pytest.raises(BadInput, match=told):
        bench.job.preview_table(data)


def test_what_goes_out_comes_in_unchanged(bench):
    bench.do(RecordDimension, number="TURN", name="=SUM(A1)", nominal="3 mm", limits="+0.2/-0.1")
    bench.do(RecordDimension, number="TURN", name="'-rim", nominal="1-1/2 in", instrument='@ "7", red')
    bench.do(RecordDimension, number="BASE", name="edge", nominal="3 mm", limits="-0/-0.1", frozen=True)
    data = bench.job.dimension_table()
    assert {r.state for r in bench.job.preview_table(data).rows} == {"unchanged"}
    assert len(bench.job.preview_table(data).rows) == 7
    assert len(bench.job.preview_table(bench.job.dimension_table("BASE")).rows) == 3
    cells = [c for row in csv.reader(io.StringIO(data.decode("utf-8-sig"))) for c in row]
    assert "'+0.2/-0.1 mm" in cells
    assert not any(c.startswith(("=", "+", "-", "@")) for c in cells)
    edited = data.replace(b"200 mm", b"200.5 mm")
    assert [r.state for r in bench.job.preview_table(edited).rows].count("changed") == 2


CELL = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=12).map(str.strip)


@given(st.lists(st.tuples(st.sampled_from("=+-@'\"a"), CELL).map("".join), min_size=1, max_size=5))
def test_any_text_survives_the_way_out_and_in(cells):
    (line,) = read_table(write_table(["c"] * len(cells), [cells])).lines
    assert list(line.cells) == cells


@pytest.mark.parametrize("limits", ["-0.1/-0.2", "+0.2/-0.1", "±0.2", "-0.1", "+0 -0.1"])
def test_limits_that_begin_with_a_sign_survive(limits):
    (line,) = read_table(write_table(["limits"], [[limits]])).lines
    assert line.cells == (limits,)
    (bare,) = read_table(f"limits\n{limits}\n".encode()).lines
    assert bare.cells == (limits,)


def test_on_the_command_line_a_table_is_previewed_then_recorded(bench, said):
    (bench.folder / "t.csv").write_text(seal + "TURN,lip,3 mm,\n", encoding="utf-8")
    code, seen = said("enter", "t.csv")
    assert (code, seen["new"], seen["recorded"]) == (0, 1, 0)
    code, done = said("enter", "t.csv", "--record")
    assert (code, done["recorded"]) == (0, 1)
    assert said("enter", "t.csv")[1]["unchanged"] == 1


def test_on_the_command_line_a_wrong_row_is_exit_1_and_nothing_is_recorded(bench, said):
    (bench.folder / "t.csv").write_text(seal + "TURN,lip,3 mm,\nTURN,rim,3,\n", encoding="utf-8")
    for words in (("enter", "t.csv"), ("enter", "t.csv", "--record")):
        code, seen = said(*words)
        assert (code, seen["wrong"], seen["recorded"]) == (1, 1, 0)
    assert seen["rows"][1]["line"] == 3
    code, done = said("enter", "t.csv", "--record", "--only-good")
    assert (code, done["recorded"], done["wrong"]) == (0, 1, 1)


def test_on_the_command_line_no_table_is_exit_2_and_no_file_is_exit_3(bench, said):
    (bench.folder / "t.csv").write_bytes(b"")
    assert said("enter", "t.csv")[0] == 2
    assert said("enter", "none.csv")[0] == 3
    assert said("enter", "t.csv", "--only-good")[0] == 2


def test_on_the_command_line_a_table_goes_out_is_edited_and_comes_in(bench, said):
    assert said("dimensions", "TURN", "-o", "out.csv")[0] == 0
    file = bench.folder / "out.csv"
    file.write_bytes(file.read_bytes().replace(b"200 mm", b"201 mm"))
    code, done = said("enter", "out.csv", "--record")
    assert (code, done["changed"], done["unchanged"]) == (0, 1, 1)
    assert stored(bench)["width"].nominal.written == "201 mm"
    assert said("dimensions", "NONE", "-o", "x.csv")[0] == 2


def test_on_the_command_line_changes_are_told(bench, said, capsys):
    code, told = said("changes", "TURN")
    assert (code, told["from"], told["to"], told["changes"]) == (0, "", "A", [])
    code, told = said("changes", "TURN", "--since-signed-by", "Mira")
    assert (code, told["signed_before"]) == (0, False)
    bench.sign_all("BASE", "TURN")
    said("part", "TURN", "--material", "S355")
    code, told = said("changes", "TURN", "--since-signed-by", "Mira")
    assert [c["words"] for c in told["changes"]] == ["material: S275 -> S355"]
    assert main(["changes", "TURN", "--since-signed-by", "Mira"]) == 0
    assert "material: S275 -> S355" in capsys.readouterr().out
    assert said("changes", "TURN", "--since-signed-by", "Mira", "--from", "A")[0] == 2
    assert said("changes", "NONE")[0] == 2
