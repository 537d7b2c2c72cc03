"""Whatever stands in a field, the report shows it and does nothing with it: every field of every record, hostile."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
import sys
import tomllib
from decimal import Decimal
from fnmatch import fnmatch
from html.parser import HTMLParser
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, get_args, get_origin, get_type_hints

from ledger.domain.fields import PART_FIELDS
from ledger.domain.record import Part
from ledger.domain.shape import Contour, Hole, Profile
from ledger.papers.report_page import ConnectionPage, JobPage, PartPage, report_page
from ledger.papers.svg import svg

NASTY = "<script>alert('{k}')</script>\"&' onload=x {{{{ 7*7 }}}} {{% raw %}} ]]><!-- \u202e\u2066\u200b\x1b[31m</td>"
RECORDS_WITH_A_FORM = {"line": ((0.0, 0.0), (1.0, 0.0)), "core": ((5.0, 5.0),)}


class Hostile:
    """Fills any frozen record with texts that mean harm, each with a number of its own."""

    def __init__(self):
        self.given = []

    def text(self):
        self.given.append(NASTY.format(k=len(self.given)))
        return self.given[-1]

    def of(self, kind: Any, name: str = "") -> Any:  # noqa: PLR0911 - one way for each kind of field
        if name in RECORDS_WITH_A_FORM:
            return RECORDS_WITH_A_FORM[name]
        origin, args = get_origin(kind), get_args(kind)
        if origin is UnionType or (args and NoneType in args):
            return self.of(next(a for a in args if a is not NoneType), name)
        if origin is Literal:
            return args[0]
        if origin is tuple:
            return tuple(self.of(a, name) for a in (args[:1] if args[-1] is Ellipsis else args))
        if kind is Profile:
            ring = Contour(((0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (9.0, 9.0, 0.0)))
            return Profile(ring, (self.of(Hole),), outlines=(ring,))
        if dataclasses.is_dataclass(kind):
            hints = get_type_hints(kind)
            fields = {f.name: self.of(hints[f.name], f.name) for f in dataclasses.fields(kind) if f.init}
            return kind(**fields)
        return {str: self.text, bytes: lambda: b"", bool: lambda: False, int: lambda: 3}.get(
            kind, lambda: kind("1.5") if kind in (Decimal, float) else self.text()
        )()


class Words(HTMLParser):
    def __init__(self, data):
        super().__init__()
        self.tags, self.names, self.words = [], set(), []
        self.feed(data)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.words.append(data)


def hostile_page():
    fill = Hostile()
    part = fill.of(Part)
    part = dataclasses.replace(
        part, form="cut", density=None, said=tuple((f.name, fill.text()) for f in PART_FIELDS)
    )
    page = dataclasses.replace(fill.of(PartPage), part=part, picture=svg(drawing_of(part)))
    connection = dataclasses.replace(fill.of(ConnectionPage), picture=b"")
    job = dataclasses.replace(fill.of(JobPage), parts=(page,), connections=(connection,))
    return fill, job


def drawing_of(part):
    from ledger.domain.plates import part_drawing

    return part_drawing(part)


def test_no_field_of_any_record_is_taken_for_markup():
    fill, job = hostile_page()
    assert len(fill.given) > 100
    data = report_page(job).decode()
    seen = Words(data)
    assert set(seen.tags) <= {
        *(
            "html",
            "img",
            "figcaption",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "h1",
            "h2",
            "h3",
            "h4",
            "table",
            "thead",
            "tbody",
        ),
        *("tr", "th", "td", "section", "figure", "ul", "li", "p", "a", "strong"),
        *("svg", "rect", "path", "text"),
    }
    assert not {name for name in seen.names if name.startswith("on")}
    assert not re.search("[\u202e\u2066\u200b\x1b]", data)
    said = "".join(seen.words)
    shown = set(re.findall(r"<script>alert\('(\d+)'\)</script>\"&' onload=x {{ 7\*7 }} {% raw %}", said))
    assert len(shown) > 60, "texts of as many fields stand in the page as they are"


def test_what_is_shown_of_a_hostile_word_is_the_word_itself():
    fill = Hostile()
    page = fill.of(PartPage)
    job = JobPage(fill.text(), fill.text(), fill.text(), fill.text(), fill.text(), (), ())
    said = "".join(Words(report_page(job).decode()).words)
    for text in (job.firm, job.ident, job.seal, job.at):
        shown = text
        for hidden in "\u202e\u2066\u200b\x1b":
            shown = shown.replace(hidden, f"\\u{ord(hidden):04x}")
        assert shown in said
    assert page.part.title


def test_a_word_is_broken_only_where_no_column_could_hold_it():
    job = JobPage("Pier mount", "a" * 64, "1:2", "1b45 42f8", "assembled_wrong", (), ())
    data = report_page(job).decode()
    assert re.search(r'<td class="wide">a{64}</td>', data)
    assert "<td>assembled_wrong</td>" in data
    (body,) = re.findall(r"body \{[^}]*\}", data)[:1]
    assert "anywhere" not in body


def test_every_file_that_is_no_module_is_in_the_wheel_and_found_from_outside_the_tree():
    """What a package holds besides its modules is named in the package data, templates too."""
    home = Path(__file__).parents[2]
    named = tomllib.loads((home / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = named["tool"]["setuptools"]["package-data"]["*"]
    others = [
        path
        for room in ("ledger", "tui")
        for path in home.joinpath(room).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc")
    ]
    assert home / "ledger/papers/templates/report.html" in others
    for path in others:
        package = next(folder for folder in path.parents if (folder / "__init__.py").exists())
        inside = path.relative_to(package).as_posix()
        assert any(
            fnmatch(inside, pattern) and inside.count("/") == pattern.count("/") for pattern in patterns
        ), path


def test_the_template_is_found_beside_the_module_wherever_that_lies(tmp_path):
    home = Path(__file__).parents[2]
    shutil.copytree(home / "ledger", tmp_path / "ledger", ignore=shutil.ignore_patterns("__pycache__"))
    code = (
        "from ledger.papers.report_page import JobPage, report_page; import ledger; print(ledger.__file__);"
        "print(report_page(JobPage('Pier mount', 'a', 'b', 'c', 'd', (), ())).decode())"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, check=True, capture_output=True, text=True
    ).stdout
    assert said.startswith(str(tmp_path))
    assert "Pier mount: report of the job" in said
