"""What the scan tells of a sound file, and that it reads bytes as the library does."""

from __future__ import annotations

from profile_drawings import block, box, circle, codes, drawing, header, insert, line, plate_bytes, raw, read

from ledger.profile import walk
from ledger.profile.scan import Scan, scan
from ledger.profile.tokens import tags


def test_it_tells_version_codes_and_counts():
    head = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0, DWGCODEPAGE="ANSI_1250")
    data = raw(circle(0, 0, 1), insert("b"), head=head, blocks=block("B", circle(0, 0, 1), line(0, 0, 1, 1)))
    seen = scan(data)
    assert seen == Scan(
        version="AC1015",
        codepage="ANSI_1250",
        insunits=1,
        measurement=0,
        drawn=2,
        expanded=2,
        in_blocks={"b": 2},
    )


def test_an_absent_code_is_not_zero():
    seen = scan(raw(head=header(ACADVER="AC1009")))
    assert (seen.insunits, seen.measurement) == (None, None)


def test_line_ends_of_every_kind_and_comments_are_read():
    data = plate_bytes()
    for ends in (b"\n", b"\r\n", b"\r"):
        assert read(data.replace(b"\n", ends)) == read(data)
    commented = data.replace(b"  0\nSECTION\n  2\nENTITIES\n", b"999\nnan\n  0\nSECTION\n  2\nENTITIES\n")
    assert commented != data
    assert read(commented) == read(data)


def test_a_byte_order_mark_and_white_space_at_the_end_do_no_harm():
    data = plate_bytes()
    assert scan(b"\xef\xbb\xbf" + data) == scan(data)
    assert scan(data + b"\r\n\x1a\r\n") == scan(data)


def test_tags_are_the_codes_and_values_of_the_file():
    assert list(tags(b"0\nEOF\n")) == [(0, b"EOF")]


def test_numbers_of_a_header_may_be_huge():
    """An empty drawing says its extents are 1e20 and -1e20."""
    assert scan(drawing(lambda space, _: space.add_line((0, 0), (1, 0)))).drawn == 1


def test_an_entity_that_the_loader_drops_is_missed(monkeypatch):
    """The bytes hold five entities; a loader that gives four must not pass."""
    data = raw(box(0, 0, 100, 60), circle(20, 20, 4))
    real = walk._Walker.missing
    monkeypatch.setattr(
        walk._Walker, "missing", lambda self, where, found, given: real(self, where, found, given - 1)
    )
    assert codes(read(data)) == {"unreadable_entity"}


def test_names_in_an_old_code_page_are_read():
    data = raw(
        box(0, 0, 50, 50, layer="Größe"), head=header(ACADVER="AC1015", INSUNITS=4, DWGCODEPAGE="ANSI_1252")
    )
    assert read(data.decode().encode("cp1252")).layers == ("Größe",)
