"""What is said beside a verdict is cut short by time and by Ctrl+C; the verdict is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.comparison import advice as beside
from ledger.comparison.advice import Advice
from ledger.comparison.look import look
from ledger.comparison.rows import comparison_to_json
from ledger.comparison.two_files import compare
from ledger.fit import fixes, slips

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
CROOKED = [*SQUARE[:3], (4.0, 66.0)]


def drawing(points):
    """A plate with 13.5 mm holes, as DXF."""
    from io import StringIO

    import ezdxf

    doc = ezdxf.new()
    doc.units = ezdxf.units.MM
    space = doc.modelspace()
    space.add_lwpolyline([(-30, -30), (130, -30), (130, 100), (-30, 100)], close=True)
    for at in points:
        space.add_circle(at, 6.75)
    text = StringIO()
    doc.write(text)
    return text.getvalue().encode()


@pytest.fixture
def wrong():
    a, b = (look(f"{n}.dxf", drawing(p)) for n, p in (("base", SQUARE), ("turntable", CROOKED)))
    found = compare(a, b, fastener="M12")
    assert found.ruling.verdict == "NO-GO"
    return Advice(found)


def counted(monkeypatch, fault=None):
    tried = []
    for module in (slips, fixes):
        real = module.fit

        def fit(case, real=real):
            tried.append(case)
            if fault:
                raise fault
            return real(case)

        monkeypatch.setattr(module, "fit", fit)
    return tried


def test_without_time_no_further_fit_is_made_and_the_verdict_is_the_same(wrong, monkeypatch):
    tried = counted(monkeypatch)
    monkeypatch.setattr(beside, "process_time", iter([0.0, *[99.0] * 50]).__next__)
    assert wrong.whole() == ()
    assert not tried
    assert wrong.of.ruling.verdict == "NO-GO"


def test_ctrl_c_ends_the_advice_and_not_the_answer(wrong, monkeypatch):
    counted(monkeypatch, KeyboardInterrupt())
    told = comparison_to_json(wrong)
    assert told["verdict"] == "NO-GO"
    assert told["advice"] == ["advice interrupted; the verdict is not affected"]


def test_advice_is_worked_out_once(wrong, monkeypatch):
    tried = counted(monkeypatch)
    first = (wrong.slips(), wrong.whole())
    some = len(tried)
    assert some > 0
    assert (wrong.slips(), wrong.whole()) == first
    assert len(tried) == some
    assert replace(wrong).whole() == first[1]
