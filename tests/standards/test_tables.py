"""Rules for the tables themselves: every row has a source, and no source is idle."""

import pytest

from ledger.standards.table import source_of, table

ROWS = {
    "fasteners": lambda t: [*t["system"], *(r for s in t["system"] for r in s["threads"] if "source" in r)],
    "clearance_holes": lambda t: [*t["iso"]["holes"], *t["asme"]["holes"], *t["structural"].values()],
    "processes": lambda t: t["process"],
    "materials": lambda t: t["material"] + t["strength"],
    "bolts": lambda t: t["standard"] + t["washer"],
    "gauges": lambda t: t["metal"],
    "weld_classes": lambda t: t["class"],
    "sheets": lambda t: [t["sheet"], t["category"], t["plate"]],
    "papers": lambda t: t["paper"],
    "cut_sizes": lambda t: t["class"] + t["range"],
}


@pytest.mark.parametrize("name", ROWS)
def test_every_row_names_a_source_and_every_source_has_a_row(name):
    named = [row[k] for row in ROWS[name](table(name)) for k in ("source", "expansion_source") if k in row]
    assert set(named) == set(table(name)["sources"])
    assert all(len(source_of(name, row)) > 10 for row in ROWS[name](table(name)))


@pytest.mark.parametrize("name", ["processes", "materials"])
def test_no_two_rows_share_a_name(name):
    names = [
        n.lower()
        for row in table(name)[name[:-1] if name == "materials" else "process"]
        for n in (row["name"], *row["also"])
    ]
    assert len(names) == len(set(names))


def test_a_row_without_a_source_is_refused():
    with pytest.raises(KeyError):
        source_of("materials", {"name": "mild steel"})
