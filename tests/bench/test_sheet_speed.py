"""
How long a vendor sheet of 2,000 holes takes, as a ratio to a peer in the same run.

The *peer* is a plain page of the same library: the same number of circles and labels, drawn one by one by its own
calls, with no place looked for and no table.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path
from time import process_time

import pytest

sys.path.append(str(Path(__file__).parents[1] / "packet"))

from sheet_samples import ISSUE, riddled

from ledger.papers.sheet import vendor_sheet

HOLES, ROUNDS, MOST_RATIO, GOAL_S = 2000, 5, 1.5, 0.5


def plain_page():
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    page = Canvas(out, invariant=1, pageCompression=1)
    for k in range(HOLES):
        x, y = 30 + 12 * (k % 40), 60 + 12 * (k // 40)
        page.circle(x, y, 3)
        page.setFont("Helvetica", 5)
        page.drawString(x + 4, y, f"H{k + 1}")
    page.save()
    return out.getvalue()


def fastest(work):
    times = []
    for _ in range(ROUNDS):
        start = process_time()
        work()
        times.append(process_time() - start)
    return min(times)


@pytest.mark.bench
def test_a_sheet_of_2000_holes_takes_little_longer_than_naive_circles_and_labels(capsys):
    part = riddled(HOLES)
    vendor_sheet(riddled(3), ISSUE), plain_page()  # imports and fonts
    sheet, peer = fastest(lambda: vendor_sheet(part, ISSUE)), fastest(plain_page)
    with capsys.disabled():
        sys.stdout.write(
            f"\nsheet of {HOLES} holes {sheet:.3f} s of processor, plain page {peer:.3f} s, ratio {sheet / peer:.2f}\n"
            f"goal {GOAL_S} s: {'met' if sheet < GOAL_S else 'not met'}\n"
        )
    assert sheet / peer < MOST_RATIO
