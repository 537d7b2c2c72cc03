"""
Small programs for the clock: a picture drawn our way or a peer's, and a peer's table that holds every row.

    python apps.py picture ours|plotext|hires HOLES [JOB]    + comes closer, - goes away; with JOB, judging goes on
    python apps.py table ROWS
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from many_parts import grid_of_holes
from textual.app import App
from textual.widgets import DataTable, Static


class Pictured(App):
    """One picture in the whole terminal; the line above it counts the keys."""

    CSS = "Static { height: 1; } #picture { height: 1fr; }"

    def __init__(self, kind, holes, job=""):
        super().__init__()
        self.kind, self.profile, self.job, self.steps, self.zoom = kind, grid_of_holes(holes), job, 0, 1.0
        self.drawn = {"ours": _Ours, "plotext": _Plotext, "hires": _HiRes}[kind](self.profile)

    def compose(self):
        yield Static("step 0", id="step")
        yield self.drawn.widget

    def on_mount(self):
        self.drawn.draw(self.zoom)
        if self.job:
            self.run_worker(self._judge, thread=True)

    def on_resize(self):
        self.drawn.draw(self.zoom)

    def on_key(self, event):
        self.pressed = time.monotonic()
        if event.key in ("plus", "minus"):
            self.zoom *= 1.4 if event.key == "plus" else 1 / 1.4
            self.steps += 1
            self.query_one("#step", Static).update(f"step {self.steps}!")
            self.drawn.draw(self.zoom)

    pressed = 0.0

    def _judge(self):
        from textual.worker import get_current_worker

        from ledger.job import Job
        from tui.verdicts import Judging

        job, worker = Job(self.job, lambda _name: ""), get_current_worker()
        listed = job.listed()
        judging = Judging(job, listed, lambda _found: None, lambda: worker.is_cancelled, lambda: self.pressed)
        judging.run([line.number for line in listed.lines if line.number.startswith("P")])


class _Ours:
    def __init__(self, profile):
        from ledger.domain.plates import plate_drawing
        from tui.picture import Picture

        self.widget = Picture(braille=True, id="picture")
        self.drawing = plate_drawing(profile, profile.holes)

    def draw(self, zoom):
        if not self.widget._layers:
            self.widget.show(self.drawing)
        self.widget._zoom = zoom
        self.widget.refresh()


def _window(profile, zoom):
    (low_x, low_y, high_x, high_y) = profile.outline.box
    x, y = (low_x + high_x) / 2, (low_y + high_y) / 2
    return (
        x - (high_x - low_x) / 2 / zoom,
        x + (high_x - low_x) / 2 / zoom,
        y - (high_y - low_y) / 2 / zoom,
        y + (high_y - low_y) / 2 / zoom,
    )


class _Plotext:
    def __init__(self, profile):
        from textual_plotext import PlotextPlot

        self.widget, self.profile = PlotextPlot(id="picture"), profile
        self.rings = [
            ring.flattened(0.5) for ring in (profile.outline, *(h.contour() for h in profile.holes))
        ]

    def draw(self, zoom):
        plot = self.widget.plt
        plot.clear_figure()
        for ring in self.rings:
            xs, ys = zip(*ring, ring[0], strict=True)
            plot.plot(xs, ys, marker="braille")
        left, right, low, high = _window(self.profile, zoom)
        plot.xlim(left, right)
        plot.ylim(low, high)
        self.widget.refresh()


class _HiRes:
    def __init__(self, profile):
        from textual_hires_canvas import Canvas

        self.widget, self.profile = Canvas(40, 20, id="picture"), profile
        self.rings = [
            ring.flattened(0.5) for ring in (profile.outline, *(h.contour() for h in profile.holes))
        ]

    def draw(self, zoom):
        wide, tall = self.widget.size
        if not wide:
            return
        self.widget.reset(size=self.widget.size)
        left, right, low, high = _window(self.profile, zoom)
        scale = min(wide / (right - left), 2 * tall / (high - low))
        lines = []
        for ring in self.rings:
            at = [((x - left) * scale, (high - y) * scale / 2) for x, y in ring]
            lines.extend((*a, *b) for a, b in zip(at, [*at[1:], at[0]], strict=True))
        self.widget.draw_hires_lines(lines)


class WholeTable(App):
    """Every row in one table."""

    def __init__(self, rows):
        super().__init__()
        self.many = rows

    def compose(self):
        yield DataTable(cursor_type="row", zebra_stripes=True)

    def on_mount(self):
        table = self.query_one(DataTable)
        table.add_columns(" ", "number", "rev", "verdict", "stops", "warn", "title", "waits on")
        for k in range(self.many):
            number = f"P{k:04d}"
            table.add_row(" ", number, "A", "NO-GO", "3", "0", f"plate {k:04d} of the pier", "x", key=number)


if __name__ == "__main__":
    what, *rest = sys.argv[1:]
    if what == "picture":
        Pictured(rest[0], int(rest[1]), *rest[2:]).run()
    else:
        WholeTable(int(rest[0])).run()
