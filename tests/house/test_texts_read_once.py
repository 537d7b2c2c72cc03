"""
What an act has read is handed on as a value: no room behind it reads the text again.

The rooms that read what people write: acts and their lines, tables, drawings' units, and the grammars themselves.
"""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
GRAMMARS = ("ledger.domain.", "ledger.standards.", "ledger.survey.")
READ_THERE = {"acts", "words", "tables", "profile", "domain", "standards"}
# Who else calls a reader: for what was typed just now, and where another reason stands behind.
TYPED_NOW = {
    "ledger/comparison/groups.py": {"read_also"},
    "ledger/comparison/two_files.py": {"read_length", "read_odds", "read_position"},
    "ledger/papers/tiles.py": {"read_length"},
    "ledger/release/permits.py": {"read_amount"},  # how far a permit that is asked for reaches
    "ledger/release/signing.py": {"read_amount"},  # a dimension that is typed again
    "ledger/drawings/folder.py": {"read_length", "read_file_names"},  # files, and how their names read
    "ledger/drawings/saved.py": {"read_file_names"},
    "ledger/store/formula_values.py": {"limits_of"},  # those of a calculated dimension follow its value, which changes
    "ledger/store/spellings.py": {  # it looks whether a text and its value say the same
        "read_amount", "read_bounds", "read_density", "read_length", "read_masks", "read_measured_on", "read_side",
        "formula_of", "limits_of", "position_of",
    },
    "ledger/cli/bends.py": {"read_bend"},
    "ledger/cli/connections.py": {"read_also"},
    "ledger/job_text/recorded.py": {"read_formula"},  # of a text of the job, as typed
    "tui/connection_form.py": {"read_also", "read_bounds", "read_position"},
    "tui/people_screen.py": {"read_odds"},
    "tui/sign_screen.py": {"read_length"},
}  # fmt: skip
OTHER_READERS = {"formula_of", "limits_of", "position_of", "sized_class"}
NO_TEXT_OF_PEOPLE = {"read_body", "read_row", "read_seal", "read_as"}


def readers_in(path: Path) -> set[str]:
    """The readers of people's texts that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith(GRAMMARS):
            found |= {a.name for a in node.names if a.name.startswith("read_") or a.name in OTHER_READERS}
    return found - NO_TEXT_OF_PEOPLE


def test_a_text_that_an_act_has_read_is_read_by_nobody_else():
    found = {}
    for top in ("ledger", "tui"):
        for path in sorted((ROOT / top).rglob("*.py")):
            words = path.relative_to(ROOT).as_posix()
            room = words.split("/")[1]
            if room not in READ_THERE and (readers := readers_in(path)):
                found[words] = readers
    assert found == TYPED_NOW


def test_a_reader_is_seen():
    assert "read_length" in readers_in(ROOT / "ledger" / "acts" / "quantities.py")
