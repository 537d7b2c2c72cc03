"""The report of a job: one page that needs nothing else, says what the job says, and runs nothing."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup
from ledger.acts.questions import AskQuestion
from ledger.domain.dimension_words import dimension_text, sizes_text
from ledger.domain.gate import NEVER_CHECKED

NASTY = "<script>alert(1)</script> \"& ' onload=x \u202e\u0085 javascript:x"
VOID = {"meta"}


class Page(HTMLParser):
    """Tags, attributes and words of a page; every tag has to be closed in its turn."""

    def __init__(self, data):
        super().__init__()
        self.tags, self.attributes, self.words, self.open = [], [], [], []
        self.feed(data.decode("utf-8"))
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.fixture
def still(bench):
    """The bench with a clock that stands still."""
    bench.job.store.clock = lambda: datetime(2026, 3, 4, 12, 30, tzinfo=UTC)
    return bench


def test_the_page_names_its_job_moment_and_journal_head(still):
    text = Page(still.job.report()).text
    last = list(still.job.journal())[-1]
    assert "Pier mount: report of the job made 2026-03-04 12:30:00 UTC" in text
    assert f"journal seal {last.seq}:{last.hash}" in text


def test_every_part_stands_with_its_verdict_stops_fixes_dimensions_and_holes(still):
    still.do(AskQuestion, number="BASE", ident="Q1", text="which face is up?")
    text = Page(still.job.report()).text
    assert "✗ NO-GO" in text
    for number in ("BASE", "TURN"):
        (verdict,) = still.job.verdicts([number])
        part = still.job.part(number)
        assert verdict.stops
        for found in (*verdict.stops, *verdict.warnings, *verdict.notes):
            whole = f"{found.severity} {found.code} {found.where} {found.message} {found.fix}"
            assert " ".join(whole.split()) in text
        for key in part.dimensions:
            assert (
                f"{key.name} {dimension_text(key)} {sizes_text(key)} {key.measured_on} {key.source}" in text
            )
        for hole in part.holes:
            x, y = hole.centre
            assert f"{hole.label} Ø {hole.diameter_mm:g} mm at {x:g}, {y:g}" in text
    assert "Q1 which face is up? still open" in text


def test_a_locked_part_stands_with_its_sign_offs_and_with_what_was_not_checked(still):
    still.lock("BASE", "TURN")
    page = Page(still.job.report())
    assert "✓ GO" in page.text
    assert "✗" not in page.text
    for words in ("drawn Mira 2026-03-04", "checked Jonas 2026-03-04", *NEVER_CHECKED):
        assert words in page.text


def test_a_connection_stands_with_its_margins_and_clearances(still):
    still.do(RequireClearance, connection="TURN-BASE", name="under the rib", required=">= 2 mm")
    still.job.measure("TURN-BASE", "under the rib", "2.4 ±0.1 mm feeler", by="Mira")
    text = Page(still.job.report()).text
    fit = still.job.connection_view("TURN-BASE").fit
    assert f"margin, nominal {round(fit.margin_mm, 3):g} mm" in text
    assert f"margin, worst case {round(fit.worst_case_margin_mm, 3):g} mm" in text
    assert "under the rib >= 2 mm 2.4 mm ± 0.1 mm (U) feeler, Mira, 2026-03-04" in text


def test_a_connection_stands_with_what_else_holds_it_and_what_is_still_to_be_measured(still):
    still.do(
        RequireClearance, connection="TURN-BASE", name="under the rib", required=">= 2 mm", critical=True
    )
    doubt = {"source": "measured", "instrument": "caliper", "uncertainty": "0.1 mm"}
    still.do(RecordDimension, number="BASE", name="web", nominal="8 mm", **doubt)
    for number in ("TURN", "BASE"):
        labels = tuple(h.label for h in still.job.part(number).holes)
        still.do(NameGroup, number=number, name="two", labels=labels[:2])
        still.do(NameGroup, number=number, name="others", labels=labels[2:])
    plies = ({"part": "TURN", "group": "two"}, {"part": "BASE", "group": "two"})
    more = {"fastener": "M10", "joint": "through", "groups": ("others", "others")}
    still.connection(plies=plies, also=(more,), position="as drawn")
    plies = ({"part": "TURN"}, {"part": "BASE"})
    still.connection(
        "WELD",
        connection_kind="welded",
        plies=plies,
        joint="",
        fastener="",
        gap="0 to 2 mm",
        position="300 0 0",
    )
    text = Page(still.job.report()).text
    assert "also M10 through: others on others position as drawn" in text
    assert "under the rib (critical) >= 2 mm not measured" in text
    assert "weld root gap 0 to 2 mm" in text
    assert "drawn gap expected" not in text
    assert "measured caliper ± 0.1 mm (U)" in text


def test_a_connection_that_cannot_be_drawn_says_why(still):
    still.job.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    still.connection("ON-PIER", plies=({"part": "TURN", "group": "bolts"}, {"part": "PIER"}))
    assert "No picture: ON-PIER cannot be drawn" in Page(still.job.report()).text


def test_the_page_needs_nothing_from_outside_and_runs_nothing(still):
    data = still.job.report()
    page = Page(data)
    assert not {"script", "link", "img", "iframe", "object", "base", "form", "image", "use"} & set(page.tags)
    for name, value in page.attributes:
        assert not name.startswith("on")
        if name in ("href", "src", "xlink:href"):
            assert value.startswith("#")
    assert set(re.findall(rb"[a-z]+://[^\"' <]*", data)) <= {b"http://www.w3.org/2000/svg"}
    assert b"url(" not in data
    assert b"@import" not in data


def test_every_link_leads_to_a_place_in_the_page(still):
    page = Page(still.job.report())
    places = [value for name, value in page.attributes if name == "id"]
    assert len(places) == len(set(places))
    links = [value[1:] for name, value in page.attributes if name == "href"]
    assert links
    assert set(links) <= set(places)


def test_words_from_the_record_are_never_markup(still):
    still.plate("X-1", title=NASTY, material=NASTY, note=NASTY, coating=NASTY)
    still.do(AskQuestion, number="X-1", ident="<b>&\"'", text=NASTY)
    still.do(RecordDimension, number="X-1", name="<img src=x>", nominal="5 mm", source="given")
    still.connection(
        '<svg onload="x">&', plies=({"part": "X-1", "group": "bolts"}, {"part": "BASE", "group": "bolts"})
    )
    data = still.job.report()
    page = Page(data)
    assert "script" not in page.tags
    assert "img" not in page.tags
    assert not any(name == "onload" for name, _ in page.attributes)
    assert "<script>alert(1)</script> \"& ' onload=x" in page.text
    assert "<img src=x>" in page.text
    for hidden in ("\u202e", "\u0085"):
        assert hidden not in data.decode()
    assert "\\u202e" in page.text


def test_a_report_made_twice_at_one_moment_is_the_same(still):
    still.lock("BASE", "TURN")
    assert still.job.report() == still.job.report()


def test_an_empty_job_has_a_report(tmp_path, clock):
    from ledger.job import Job

    with Job.start(str(tmp_path / "new.db"), "Empty <job>", lambda _: "", clock) as job:
        assert "Empty <job>: report of the job" in Page(job.report()).text


def test_the_page_is_made_for_light_dark_and_paper(still):
    style = still.job.report().decode()
    assert "@media (prefers-color-scheme: dark)" in style
    assert "@media print" in style
