"""The sheet that is handed out of a locked revision is the one that went out, and of an open one a preview."""

from __future__ import annotations

import io
from zipfile import ZipFile

from pypdf import PdfReader

from ledger.acts.parts import NewRevision


def words(data):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_it_is_a_preview_then_the_sheet_in_the_packet_and_again_a_preview(bench):
    assert "PREVIEW" in words(bench.job.sheet("BASE"))
    bench.lock("BASE", "TURN")
    _name, packet, _dxf = bench.job.packet("BASE")
    with ZipFile(io.BytesIO(packet)) as kept:
        (sheet,) = (kept.read(n) for n in kept.namelist() if n.startswith("sheets/BASE"))
    assert bench.job.sheet("BASE") == bench.job.sheet("BASE", "A3") == sheet
    assert "PREVIEW" not in words(sheet)
    bench.do(NewRevision, number="BASE", reason="wider")
    assert "PREVIEW" in words(bench.job.sheet("BASE"))
