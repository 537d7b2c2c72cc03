"""The recipes of DEVELOPERS are true: each file is there, each is counted, each holds the names that are told of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
_PART = TEXT.partition("## Recipes\n")[2].partition("\n## ")[0]
RECIPES = dict(re.findall(r"^### (.+?)\n(.*?)(?=^### |\Z)", _PART, re.MULTILINE | re.DOTALL))
FILES = {
    head: re.findall(r"^- `([^`]+)`:(.*?)(?=^- |\n\n|\Z)", body, re.MULTILINE | re.DOTALL)
    for head, body in RECIPES.items()
}


def test_there_are_recipes_for_what_is_added_most():
    assert len(RECIPES) >= 7


@pytest.mark.parametrize("head", RECIPES)
def test_the_files_of_a_recipe_are_counted(head):
    counted = re.search(r": (\d+) files?$", head)
    assert counted, head
    assert int(counted[1]) == len(FILES[head])


@pytest.mark.parametrize("file", sorted({f for files in FILES.values() for f, _ in files}))
def test_a_file_of_a_recipe_is_there(file):
    path = ROOT / file
    assert path.parents[file.count("NAME/")].is_dir() if "NAME" in file else path.is_file()


@pytest.mark.parametrize(
    ("file", "name"),
    sorted(
        {
            (file, name)
            for files in FILES.values()
            for file, told in files
            if "NAME" not in file and file.endswith(".py")
            for name in re.findall(r"(?:line of|row of|attribute of|field of|column of|in) `(\w+)`", told)
        }
    ),
)
def test_what_a_recipe_says_of_a_file_is_in_it(file, name):
    assert re.search(rf"\b{name}\b", (ROOT / file).read_text(encoding="utf-8")), (file, name)


def test_names_are_looked_for():
    assert "PART_LISTS" in TEXT
    assert sum(len(files) for files in FILES.values()) > 25
