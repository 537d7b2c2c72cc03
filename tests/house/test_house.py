"""The house holds: imports go down only, each room stands alone, and help is quick."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = (
    "domain.gate",
    "standards.fasteners",
    "profile.read",
    "fit.pattern",
    "assembly.closure",
    "store.journal",
    "acts",
    "checks",
    "packet.build",
    "judge.bench",
    "release.signing",
    "papers.handouts",
    "drawings.folder",
    "suggestion.proposals",
    "tables.entry",
    "history.revisions",
    "job",
    "cli",
    "demo.walk",
)
HEAVY = ("ezdxf", "scipy", "shapely", "sqlalchemy", "textual", "pint", "numpy", "pydantic", "cryptography")


def modules_after(code: str) -> set[str]:
    said = subprocess.run(
        [sys.executable, "-c", code + "\nimport sys; print(' '.join(sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.partition(".")[0] for name in said.stdout.split()}


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_in_a_fresh_process(room):
    assert "ledger" in modules_after(f"import ledger.{room}")


@pytest.mark.parametrize("room", ["domain.gate", "fit.pattern", "checks", "suggestion.proposals"])
def test_geometry_and_checks_reach_no_file_and_no_database(room):
    loaded = modules_after(f"import ledger.{room}\nfrom ledger.checks import all_checks; all_checks()")
    assert loaded.isdisjoint({"ezdxf", "sqlmodel", "sqlalchemy", "textual"})


@pytest.mark.parametrize("module", ["build", "contents", "inspect"])
def test_a_packet_is_built_and_verified_without_a_job_and_without_papers(module):
    loaded = modules_after(f"import ledger.packet.{module}")
    assert loaded.isdisjoint({"sqlmodel", "sqlalchemy", "reportlab", "jinja2", "ezdxf", "textual"})


def test_help_loads_nothing_heavy():
    code = "import sys; sys.argv = ['fitup', '--help']\nfrom tui.start import main\n"
    code += "try: main()\nexcept SystemExit: pass"
    assert modules_after(code).isdisjoint(HEAVY)


def test_the_readmes_table_is_that_of_the_checks_that_exist():
    from ledger.checks import readme_table

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("readme_table -->\n")[2].partition("\n<!-- end of checks")[0]
    assert shown == readme_table()


def test_the_readmes_keys_are_those_of_the_screens():
    from tui.actions import keys_table

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("keys_table -->\n")[2].partition("<!-- end of keys")[0]
    assert shown == keys_table()


def shown_strings():
    """Every string in the program that is no docstring, with the module it is in."""
    for path in sorted(
        p for room in ("ledger", "tui") for p in Path(__file__).parents[2].joinpath(room).rglob("*.py")
    ):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        bare = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in bare:
                yield path.name, node.lineno, node.value


def test_no_string_leaves_it_to_the_reader_whether_it_is_one_or_several():
    strings = list(shown_strings())
    assert len(strings) > 1000
    assert [s for s in strings if re.search(r"\w\((?:s|es|ies)\)", s[2])] == []


# Words that the house no longer uses, as they would stand in a text that a user can read.
RETIRED = (
    r"shops?", r"unmate[sd]?", r"mates?", r"mated", r"flip(?:s|ped)?", r"weldments?", r"blobs?",
    r"cure[sd]?", r"remed(?:y|ies)", r"wanted", r"anew", r"to spare", r"spare as drawn", r"as is usual",
    r"counts? no more", r"stands? alone", r"may be given again", r"swallows?", r"smells?", r"fold(?:s|ed|ing)?",
    r"as a day", r"the least", r"the most", r"at this seat", r"sign-offs?", r"tak(?:e|es|en) back",
    r"let go of", r"\d+ is the least", r"declar(?:e|es|ed|ing|ations?)", r"judg(?:e|es|ed|ing|e?ments?)",
    r"stated", r"states? (?:the|its|a|an)", r"waits? for itself", r"enrols?", r"dropp(?:ed|ing)",
    r"lies (?:in the|on a|outside|next to)",
)  # fmt: skip
# What reads like one of them and is meant: named guides and trades, and a type of the database.
LEGITIMATE = (
    r"shop guides", r"some shops ask", r"shop practice", r"CAST\(data AS BLOB\)", r"'blob'",
)  # fmt: skip


def retired_in(text):
    """The retired words of a text, but for what is legitimately called so."""
    for meant in LEGITIMATE:
        text = re.sub(meant, "", text)
    return re.findall(rf"(?<![\w-])(?:{'|'.join(RETIRED)})(?![\w-])", text, re.IGNORECASE)


def test_a_retired_word_is_found_and_a_legitimate_one_is_not():
    assert retired_in("bolts are wanted of 28.90 mm; a Mate stands alone") == [
        "wanted",
        "Mate",
        "stands alone",
    ]
    assert retired_in("common practice, shop guides; the estimate of a workshop; a-flip") == []


def test_no_retired_word_comes_up_in_a_text():
    found = [(module, line, words) for module, line, text in shown_strings() if (words := retired_in(text))]
    assert found == []


# Verbs of one face alone, and what the other one has for them.
OF_ONE_FACE = {
    "altered": "the command line tells altered rows beside its answer; the screens verify",
    "dimension_across": "asked on the command line; the screens show what is recorded",
    "answers": "the screens show the thing itself, with what its checks find, after every entry",
    "assembly": "the screens tell a ring in the verdict of each of its parts",
    "builds": "the screens tell what collides, is out of reach or has no order in the verdict of each part",
    "assembly_picture": "a file for a viewer, written on the command line",
    "agreed_layers": "the command line takes a profile in one step, which asks for it by itself",
    "changes_told": "the command line asks for each step: changes_between, changes_since",
    "changes_between": "the screens show every step at once: changes_told",
    "write_evidence": "the screens list what is kept; the command line writes it out",
    "text_schema": "for an editor; the screens read the text itself",
    "survey": "the screens show the points of a part, and what the check of its readings finds",
    "remembered": "the list while it is being judged; a command judges what it shows",
    "remember": "the list while it is being judged; a command judges what it shows",
    "listed": "the list while it is being judged; the command line waits for the verdicts",
    "news": "a command is over before another seat records anything",
    "own_instruments": "for reading a line while it is typed",
    "to_permit": "the screen asks once more before it signs; the command line tells what was permitted",
    "do": "both faces name the act: enter",
    "do_made": "both faces have record_dimension, record_point, record_distance, record_instrument",
    "holds": "a packet is looked into with it",
}


def test_every_verb_is_reached_from_both_faces():
    from ledger.job import Job

    home = Path(__file__).parents[2]
    faces = [
        "\n".join(p.read_text(encoding="utf-8") for p in sorted(home.joinpath(*room).glob("*.py")))
        for room in (("tui",), ("ledger", "cli"))
    ]
    verbs = {name for name in dir(Job) if not name.startswith("_")} - {"judging"}  # what the verbs judge with
    missing = {v for v in verbs if not all(re.search(rf"\.{v}\b", face) for face in faces)}
    assert missing == set(OF_ONE_FACE)


def test_every_act_that_a_face_enters_is_one_that_exists():
    from ledger.acts import ACTS

    home, known = Path(__file__).parents[2], {cls.__name__ for cls in ACTS.values()}
    entered = set()
    for path in (*home.joinpath("tui").glob("*.py"), *home.joinpath("ledger", "cli").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = getattr(node, "func", None)
            name = getattr(called, "attr", getattr(called, "id", ""))
            if isinstance(node, ast.Call) and name in {"enter", "do", "_do", "do_act", "plain_act", "_ask"}:
                words = [
                    a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)
                ]
                entered |= {w for w in words if re.fullmatch(r"([A-Z][a-z]+){2,}", w)}
    assert len(entered) > 10
    assert entered - known == set()


def test_every_line_of_a_command_is_a_form_and_its_reader_says_so():
    from ledger.cli.lines import LINES
    from ledger.words import forms

    known = [form for form in vars(forms).values() if isinstance(form, forms.Form)]
    # the policy, another person's roles, and what drawings have in common, are options on the command line
    of_screens_alone = {f.shape for f in (forms.ROLES, forms.RAISED, forms.CHANGED_ROLES, forms.STOCK)}
    assert {form.shape for form in known} - {line.form.shape for line in LINES.values()} == of_screens_alone


def test_what_is_imported_while_the_program_runs_is_there():
    """A name that a type checker alone sees is found by no type checker when it is imported in a function."""
    for path in (p for room in ("ledger", "tui") for p in (ROOT / room).rglob("*.py")):
        for node in _imports_at_run_time(ast.parse(path.read_text(encoding="utf-8"))):
            module = importlib.import_module(str(node.module))
            for name in (alias.name for alias in node.names):
                there = hasattr(module, name) or importlib.util.find_spec(f"{node.module}.{name}")
                assert there, f"{path.name} line {node.lineno}: {node.module} has no {name}"


def _imports_at_run_time(tree):
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        if isinstance(node, ast.ImportFrom) and str(node.module).partition(".")[0] in ("ledger", "tui"):
            yield node
        yield from _imports_at_run_time(node)


def test_no_property_fails_because_the_machine_is_busy():
    from hypothesis import settings

    assert settings().deadline is None
