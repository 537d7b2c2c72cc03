"""A line that cannot be read is refused with what was read, what was expected and a line that would read."""

import random
from functools import partial
from inspect import getmembers

import pytest

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.key_line import KeyLine
from ledger.words import forms
from ledger.words.bends import bend_data_line, bend_line
from ledger.words.bolts import bolt_line
from ledger.words.clearances import clearance_line, reading_line
from ledger.words.connections import connection_line
from ledger.words.dimensions import dimension_line
from ledger.words.forms import Form
from ledger.words.groups import group_line
from ledger.words.hardware import hardware_line
from ledger.words.holes import hole_line
from ledger.words.instruments import instrument_line
from ledger.words.layers import layers_line
from ledger.words.line import reader_named
from ledger.words.operations import operation_line
from ledger.words.orders import order_line, receipt_line
from ledger.words.parts import part_line
from ledger.words.people import key_line, person_line, raised_line, roles_change_line, roles_line
from ledger.words.permits import permit_line
from ledger.words.pieces import piece_line
from ledger.words.points import distance_line, point_line
from ledger.words.questions import link_line, question_line
from ledger.words.schedule import schedule_line
from ledger.words.stock import stock_line
from ledger.words.vendors import vendor_line

READERS = {
    "PART": part_line,
    "STOCK": stock_line,
    "DIMENSION": dimension_line,
    "GROUP": group_line,
    "OPERATION": operation_line,
    "BEND": bend_line,
    "BEND_DATA": bend_data_line,
    "VENDOR": vendor_line,
    "HARDWARE": hardware_line,
    "ORDER": order_line,
    "RECEIPT": receipt_line,
    "SCHEDULE": schedule_line,
    "PIECE": piece_line,
    "LAYERS": layers_line,
    "HOLE": hole_line,
    "POINT": point_line,
    "DISTANCE": distance_line,
    "QUESTION": question_line,
    "LINKS": link_line,
    "INSTRUMENT": partial(instrument_line, today="2026-12-01"),
    "CONNECTION": partial(connection_line, parts=("BASE", "PIER")),
    "BOLT": bolt_line,
    "CLEARANCE": clearance_line,
    "READING": reading_line,
    "PERMIT": permit_line,
    "PERSON": person_line,
    "CHANGED_ROLES": roles_change_line,
    "ROLES": roles_line,
    "RAISED": partial(raised_line, known=("thin_web", "close_holes")),
    "KEY": partial(key_line, lines=(KeyLine("5e1f" + "0" * 60, "Mira", 1),)),
}
READERS |= {
    name: reader_named(one.reader)
    for one in forms.LINE_ACTS.values()
    for name, form in getmembers(forms)
    if form is one.form
}
FORMS = {name: form for name, form in getmembers(forms) if isinstance(form, Form)}


def test_every_form_has_a_reader():
    assert READERS.keys() == FORMS.keys()


@pytest.mark.parametrize("name", READERS)
def test_the_example_of_a_form_reads(name):
    READERS[name](FORMS[name].example)


def _broken(example, seed):
    """The example with one character or one word taken out, doubled, replaced or put in another place."""
    rnd = random.Random(seed)
    pieces = list(example) if rnd.random() < 0.5 else example.split(" ")
    glue = "" if len(pieces) == len(example) else " "
    at = rnd.randrange(len(pieces))
    way = rnd.randrange(4)
    if way == 0:
        del pieces[at]
    elif way == 1:
        pieces.insert(at, pieces[at])
    elif way == 2:
        pieces[at] = rnd.choice(["?", "0", "-", "mm", "±", "critical", ",", ";", ":", "="])
    else:
        pieces.insert(rnd.randrange(len(pieces)), pieces.pop(at))
    return glue.join(pieces)


@pytest.mark.parametrize("name", READERS)
def test_what_is_refused_is_refused_in_whole_words(name):
    refused = []
    for text in ("", "?", *(_broken(FORMS[name].example, seed) for seed in range(150))):
        try:
            READERS[name](text)
        except BadInput as fault:
            refused.append((text.strip(), fault))
    assert refused
    for text, fault in refused:
        said = str(fault)
        if isinstance(fault, UnknownName):
            assert "nearest" in said or "there is no" in said
            continue
        assert "read " in said or repr(text) in said, (text, said)
        assert "expected" in said, (text, said)
        assert any(word in said for word in ("such as", "as in", "e.g.", FORMS[name].example)), (text, said)
