"""
Grades against the standards that they are named in: every spelling by itself, so that none borrows another's values.

Density kg/m3; least yield or 0.2 % proof stress by thickness up to (mm), MPa; tensile strength, least and greatest; and
expansion, 1e-6/K. None: the table has no value.
"""

from __future__ import annotations

import pytest

from ledger.standards.materials import material, materials
from ledger.standards.table import plain_name, table

NONE = ((), None, None)
# EN 10025-2:2004 table 7, and the numbers of its grades (EN 10027-2, from memory; 1.0038, 1.0044, 1.0045, 1.0577 read).
EN_10025_2 = {
    ((16, 235), (40, 225)): ((360, 510), "S235 S235JR S235J0 S235J2 1.0038 1.0114 1.0117"),
    ((16, 275), (40, 265)): ((410, 560), "S275 S275JR S275J0 S275J2 1.0044 1.0143 1.0145"),
    ((16, 355), (40, 345)): ((470, 630), "S355 S355JR S355J0 S355J2 S355K2 1.0045 1.0553 1.0577 1.0596"),
}
# EN 10025-3 and -4, EN 10025-6, EN 10149-2: all from memory.
EN_10025_3 = {
    ((16, 420), (40, 400)): ((520, 680), "S420 S420N S420NL S420M S420ML"),
    ((16, 460), (40, 440)): ((540, 720), "S460 S460N S460NL S460M S460ML"),
}
EN_10025_6 = {
    ((50, 500),): ((590, 770), "S500 S500Q S500QL S500QL1"),
    ((50, 550),): ((640, 820), "S550 S550Q S550QL S550QL1"),
    ((50, 620),): ((700, 890), "S620 S620Q S620QL S620QL1"),
    ((50, 690),): ((770, 940), "S690 S690Q S690QL S690QL1"),
}
EN_10149_2 = {
    ((8, 420),): ((480, 620), "S420MC"),
    ((8, 500),): ((550, 700), "S500MC"),
    ((8, 700),): ((750, 950), "S700MC"),
}
STEELS = [
    (grade, 7850, yields, *tensile, 11.7)
    for standard in (EN_10025_2, EN_10025_3, EN_10025_6, EN_10149_2)
    for yields, (tensile, grades) in standard.items()
    for grade in grades.split()
]
OTHERS = [
    # Philpot, Mechanics of Materials (Wiley 2017) table D.1; expansion Callister & Rethwisch 3e table B.6
    ("A36", 7850, ((200, 250),), 400, None, 11.7),
    ("ASTM A36", 7850, ((200, 250),), 400, None, 11.7),
    # no least values in this table
    *((name, 7850, *NONE, 11.7) for name in ("mild steel", "steel", "carbon steel", "1018", "AISI 1018")),
    *((name, 7850, *NONE, 11.7) for name in ("DC01", "1.0330", "CR4")),
    *(
        (name, 7850, *NONE, 11.7)
        for name in ("galvanized", "galvanised", "galvanized steel", "galvanised steel", "zinc-coated steel")
    ),
    ("4130", 7850, *NONE, None),
    ("stainless", 7900, *NONE, None),
    ("stainless steel", 7900, *NONE, None),
    # textbook average property table (304), ASTM A240/A240M (the others, from memory)
    ("304", 7900, ((75, 207),), 517, None, 17.2),
    ("AISI 304", 7900, ((75, 207),), 517, None, 17.2),
    ("304L", 7900, ((75, 170),), 485, None, 17.2),
    ("AISI 304L", 7900, ((75, 170),), 485, None, 17.2),
    ("316", 8000, ((75, 205),), 515, None, 15.9),
    ("AISI 316", 8000, ((75, 205),), 515, None, 15.9),
    ("316L", 8000, ((75, 170),), 485, None, 15.9),
    ("AISI 316L", 8000, ((75, 170),), 485, None, 15.9),
    # EN 10088-2:2014 table 6, plate (P), from memory
    ("1.4301", 7900, ((75, 210),), 520, 720, 17.2),
    ("1.4307", 7900, ((75, 200),), 500, 700, 17.2),
    ("1.4401", 8000, ((75, 220),), 520, 670, 15.9),
    ("1.4404", 8000, ((75, 220),), 520, 670, 15.9),
    ("1.4571", 8000, ((75, 220),), 520, 670, 15.9),
    # Callister & Rethwisch 3e (6061), ASTM B209 (5052-H32) and EN 485-2, from memory
    *((name, 2700, *NONE, None) for name in ("aluminium", "aluminum")),
    *((name, 2680, *NONE, 23.8) for name in ("5052", "EN AW-5052")),
    ("5052-H32", 2680, ((12.7, 160),), 215, 265, 23.8),
    *((f"EN AW-5052{sep}H32", 2680, ((6, 130),), 210, 260, 23.8) for sep in " -"),
    *((name, 2660, *NONE, 23.8) for name in ("5083", "EN AW-5083", "5754", "EN AW-5754")),
    *(
        (name, 2660, ((6.3, 125), (80, 115)), 270, 350, 23.8)
        for name in ("5083-H111", "EN AW-5083 H111", "EN AW-5083-H111")
    ),
    *(
        (name, 2660, ((100, 80),), 190, 240, 23.8)
        for name in ("5754-H111", "EN AW-5754 H111", "EN AW-5754-H111")
    ),
    *((name, 2700, *NONE, 23.6) for name in ("6061", "EN AW-6061")),
    *((name, 2700, ((6.3, 240),), 290, None, 23.6) for name in ("6061-T6", "EN AW-6061 T6", "EN AW-6061-T6")),
    *((name, 2700, *NONE, 23.4) for name in ("6082", "EN AW-6082")),
    *(
        (name, 2700, ((6, 260), (12.5, 255), (100, 240)), 295, None, 23.4)
        for name in ("6082-T6", "EN AW-6082 T6", "EN AW-6082-T6", "6082-T651", "EN AW-6082 T651")
    ),
    # Callister & Rethwisch 3e appendix B, from memory; bare brass common practice
    *((name, 8890, *NONE, 17.0) for name in ("copper", "C11000", "Cu-ETP")),
    ("brass", 8500, *NONE, None),
    *((name, 8530, *NONE, 19.9) for name in ("C26000", "CuZn30")),
    # common practice; EN 1991-1-1 tables A.1 and A.3, and EN 1991-1-5 table C.1, from memory
    *((name, 680, *NONE, None) for name in ("plywood", "ply")),
    ("birch plywood", 700, *NONE, None),
    ("concrete", 2400, *NONE, 10.0),
    ("reinforced concrete", 2500, *NONE, 10.0),
]
GRADES = [*STEELS, *OTHERS]


def held(row):
    """What the table says of a spelling, in the order of the rows above."""
    found = material(row[0])
    strong = found.strength
    yields, least, most = (strong.yields, strong.least_mpa, strong.most_mpa) if strong else NONE
    expansion = None if found.expansion_per_k is None else round(found.expansion_per_k * 1e6, 6)
    return (row[0], found.density_kg_m3, yields, least, most, expansion)


@pytest.mark.parametrize("row", GRADES, ids=lambda row: row[0])
def test_every_spelling_of_a_grade_has_the_values_of_its_own_standard(row):
    assert row == held(row)


def test_no_spelling_of_the_table_goes_without_a_published_row():
    rows = table("materials")["material"]
    spelled = {plain_name(s) for r in rows for s in r["also"]}
    assert spelled <= {plain_name(row[0]) for row in GRADES}
    assert {material(row[0]).name for row in GRADES} == {m.name for m in materials()}


@pytest.mark.parametrize(("low", "full"), [("304L", "304"), ("316L", "316")])
def test_a_low_carbon_grade_is_weaker_than_the_full_one(low, full):
    """ASTM A240: 170/485 MPa; taking the other's 205/515 would promise a sixth more than there is."""
    assert material(low) is not material(full)
    assert material(low).strength.least_mpa == 485 < material(full).strength.least_mpa
    assert material(low).strength.yield_mpa(6) == 170 < material(full).strength.yield_mpa(6)
