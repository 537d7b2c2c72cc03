"""
The pictures of three screens that stand in the readme, drawn as SVG from what is painted of the demo, and of its parts
in space.

    python tests/terminal/draw_pictures.py

Each run of one style is one word in the SVG; dots of braille are drawn as dots, because few fonts have them.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
from io import BytesIO
from pathlib import Path
from xml.sax.saxutils import escape

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from PIL import Image  # noqa: E402

from ledger.demo.walk import run_demo  # noqa: E402 - the repository is on the path first
from ledger.job import Job  # noqa: E402
from tui.app import Fitup  # noqa: E402
from tui.signs import RICH  # noqa: E402
from tui.themes import DARK  # noqa: E402

WHERE = Path(__file__).parent / "pictures"
SIZE = (104, 28)
WIDE, TALL = 8.4, 18.0  # of a cell, in the SVG's own unit
PICTURES = {"parts": (), "part": ("down", "enter", "down"), "connection": ("down", "enter", "down", "enter")}
WEIGHT = ' font-weight="bold"'
_DOTS = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))  # of the bits of a braille sign


async def settle(pilot):
    for _ in range(3):
        await pilot.pause()
        await pilot.app.workers.wait_for_complete()
    await pilot.pause(0.1)


async def painted(place, keys):
    app = Fitup(place, RICH)
    async with app.run_test(size=SIZE) as pilot:
        await settle(pilot)
        for key in keys:
            await pilot.press(key)
            await settle(pilot)
        return [list(strip) for strip in app.screen._compositor.render_strips()]


def svg(rows):
    """The cells as SVG: grounds, then words and dots."""
    width, height = SIZE[0] * WIDE, SIZE[1] * TALL
    fonts = "ui-monospace, Menlo, Consolas, DejaVu Sans Mono, monospace"
    room = f'viewBox="0 0 {width:g} {height:g}"'
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {room} font-size="14" font-family="{fonts}" xml:space="preserve">',
        f'<rect width="{width:g}" height="{height:g}" fill="{DARK.background}"/>',
    ]
    words = []
    for y, row in enumerate(rows):
        x = 0
        for text, style, _ in row:
            front, ground = colors(style)
            if ground != DARK.background:
                wide = f"{len(text) * WIDE + 0.4:.1f}"
                place = f"M{x * WIDE:.1f} {y * TALL:g}h{wide}v{TALL + 0.4:g}h-{wide}z"
                out.append(f'<path fill="{ground}" d="{place}"/>')
            words += drawn(text, x, y, front, bold=bool(style and style.bold))
            x += len(text)
    return "\n".join([*out, *words, "</svg>", ""])


def colors(style):
    """Foreground and ground of a run, as the terminal would show them."""
    pair = [style.color, style.bgcolor] if style else [None, None]
    usual = (DARK.foreground, DARK.background)
    shown = [
        f"#{''.join(f'{v:02x}' for v in c.get_truecolor())}" if c else usual[at] for at, c in enumerate(pair)
    ]
    return tuple(reversed(shown)) if style and style.reverse else tuple(shown)


def drawn(text, x, y, color, *, bold):
    """A run of cells: its dots as one path of squares, its words as one text."""
    dots = []
    for at, sign in enumerate(text):
        for bit, (across, down) in enumerate(_DOTS):
            if 0x2800 < ord(sign) <= 0x28FF and (ord(sign) - 0x2800) >> bit & 1:
                left = (x + at) * WIDE + (2 * across + 1) * WIDE / 4 - 0.9
                dots.append(f"M{left:.1f} {y * TALL + (2 * down + 1) * TALL / 8 - 0.9:.1f}h1.8v1.8h-1.8z")
    if dots:
        yield f'<path fill="{color}" d="{"".join(dots)}"/>'
    plain = "".join(" " if 0x2800 <= ord(c) <= 0x28FF else c for c in text)
    if plain.strip():
        word, first = plain.strip(), len(plain) - len(plain.lstrip())
        place = f'x="{(x + first) * WIDE:.1f}" y="{y * TALL + 13.5:g}" textLength="{len(word) * WIDE:.1f}"'
        yield f'<text {place} fill="{color}"{WEIGHT * bold}>{escape(word)}</text>'


def main():
    """Draw them all."""
    os.environ.update({"FITUP_BY": "Mira", "COLORTERM": "truecolor", "LC_ALL": "C.UTF-8"})
    os.environ.pop("NO_COLOR", None)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FITUP_CACHE"] = str(Path(folder) / "cache")
        run_demo(Path(folder) / "demo", lambda _line: None)
        for name, keys in PICTURES.items():
            rows = asyncio.run(painted(str(Path(folder) / "demo" / "fitup.db"), keys))
            (WHERE / f"{name}.svg").write_text(svg(rows), encoding="utf-8")
        with Job(str(Path(folder) / "demo" / "fitup.db"), lambda _name: "") as job:
            drawn = Image.open(BytesIO(job.assembly_picture("png"))).quantize(32)
        drawn.resize((drawn.width * 2 // 3, drawn.height * 2 // 3)).save(
            WHERE / "assembly.png", optimize=True
        )


if __name__ == "__main__":
    main()
