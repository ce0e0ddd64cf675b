"""Whatever happens to a table on its way, it is read row by row or refused as a whole with a reason."""

from __future__ import annotations

import io

import pytest

from server.errors import InputProblem
from server.exchange import read_airfields, read_beacons, read_checkpoints, read_limited
from tests.exchange.table_builders import NAVAID, NAVAID_COLUMNS, OUR_AIRFIELD, OUR_BEACON, OUR_CHECKPOINT, nasr, navaids, table


def read(content: bytes):
    return read_beacons(content, region_id=1, name="beacons.csv")


def refusals(content: bytes) -> list[tuple[int, str]]:
    return [(row.line_number, row.code) for row in read(content).refused]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is empty"),
        (b"\xef\xbb\xbf \r\n", "is empty"),
        (b"<!DOCTYPE html><html><body>Not found</body></html>", "is a web page"),
        (b"\n <html>", "is a web page"),
        # First bytes: ISO 32000-1 7.5.2 (PDF), W3C PNG 5.2, APPNOTE 4.3.7 (ZIP, of which XLSX is one), RFC 1952 2.3.1 (GZ).
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "is a PDF file, not a table"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "is a picture .PNG., not a table"),
        (b"PK\x03\x04\x14\x00", "is a ZIP archive or a spreadsheet .XLSX., not a table"),
        (b"\x1f\x8b\x08\x00", "is a GZ archive, not a table"),
        ("key,ident\n".encode("utf-16"), "may be UTF-16"),
        (b"key\x00,ident\x00\n", "may be UTF-16, or binary"),
        (b"key;ident;kind;frequency_khz\n1;2;3;4\n", "belong to no known table of beacons"),
    ],
)
def test_what_is_no_table_is_refused_with_what_it_seems_to_be(content: bytes, message: str):
    with pytest.raises(InputProblem, match=message):
        read(content)


@pytest.mark.parametrize("reader", [read_beacons, read_airfields, read_checkpoints])
@pytest.mark.parametrize("content", [b"%PDF-1.7\n1 0 obj", b"\x89PNG\r\n", b"a,b\n1,2\n", b"name,feature\n1,2\n", b'"' + b"x" * 70_000])
def test_a_refused_file_is_named_once(reader, content: bytes):
    with pytest.raises(InputProblem) as caught:
        reader(content, region_id=1, name="log1.pdf")
    assert caught.value.message.count("log1.pdf") == 1
    assert caught.value.message.startswith(caught.value.place)
    assert "%PDF" not in caught.value.message


OURAIRPORTS_FIELD = {
    "id": "1",
    "ident": "XNOR",
    "type": "small_airport",
    "latitude_deg": "43.2",
    "longitude_deg": "-36.1",
    "iso_country": "NA",
}
READERS = {"beacons": read_beacons, "airfields": read_airfields, "checkpoints": read_checkpoints}


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("beacons", table(OUR_BEACON)),
        ("beacons", table({**OUR_BEACON, "feature": "mast"})),
        ("beacons", navaids({})),
        ("beacons", nasr({})),
        ("airfields", table(OUR_AIRFIELD)),
        ("airfields", table(OURAIRPORTS_FIELD)),
        ("checkpoints", table(OUR_CHECKPOINT)),
    ],
)
def test_a_table_of_one_kind_is_never_taken_for_another(kind: str, content: bytes):
    for asked, reader in READERS.items():
        if asked != kind:
            with pytest.raises(InputProblem, match=f"t.csv is a table of {kind}, not of {asked}. Load it as {kind}.") as caught:
                reader(content, region_id=1, name="t.csv")
            assert caught.value.code == "format-not-known"


def test_a_column_too_many_does_not_make_a_table_another():
    checkpoints = read_checkpoints(table({**OUR_CHECKPOINT, "ident": "7"}), region_id=1, name="t.csv")
    airfields = read_airfields(table({**OUR_AIRFIELD, "feature": "grass"}), region_id=1, name="t.csv")
    assert (len(checkpoints.rows), len(airfields.rows)) == (1, 1)


def test_a_byte_that_is_not_utf_8_is_named_with_its_line():
    with pytest.raises(InputProblem, match=r"beacons.csv, line 3: byte 0xC9 is not UTF-8") as caught:
        read(navaids({}, {"name": "Andre"}).replace(b"Andre", b"Andr\xc9"))
    assert caught.value.code == "not-utf-8"


def test_byte_order_mark_and_windows_line_ends_change_nothing():
    plain = navaids({}, {})
    assert read(b"\xef\xbb\xbf" + plain.replace(b"\n", b"\r\n")) == read(plain)
    assert read(plain.replace(b"\n", b"\r")) == read(plain)


def test_columns_are_bound_by_name_in_any_order_and_unknown_ones_are_ignored():
    row = {"surprise": "x", **dict(reversed(OUR_BEACON.items()))}
    assert read(table(row)).rows == read(table(OUR_BEACON)).rows


def test_a_changed_layout_is_refused_with_the_missing_and_the_found_columns():
    content = navaids({}).replace(b"slaved_variation_deg", b"declination")
    with pytest.raises(InputProblem, match=r"must have the columns slaved_variation_deg, which are not there\. Found: id") as caught:
        read(content)
    assert caught.value.code == "columns-missing"


def test_a_table_parted_by_semicolons_says_so():
    with pytest.raises(InputProblem, match="parted by semicolons"):
        read_checkpoints(b"name;feature;lat_deg;lon_deg\nA;b;1;2\n", region_id=1, name="c.csv")


def test_a_column_that_stands_twice_is_refused():
    with pytest.raises(InputProblem, match="column ident stands twice"):
        read(b"ident,name,kind,frequency_khz,lat_deg,lon_deg,ident\n")


def test_a_header_alone_is_refused():
    with pytest.raises(InputProblem, match="has a header but no rows"):
        read(navaids())


def test_line_numbers_are_those_of_an_editor_also_after_a_cell_with_line_ends():
    content = navaids({"name": "One\nTwo\nThree"}, {}, {"frequency_khz": "-1"})
    reading = read(content)
    assert content.splitlines()[5].startswith(b"3,")
    assert [(row.line_number, row.code) for row in reading.refused] == [(6, "frequency-unknown")]
    assert reading.line_numbers == (2, 5)
    assert reading.rows[0].name == "One Two Three"


def test_blank_lines_are_passed_over_and_counted():
    content = navaids({}, {"frequency_khz": "-1"}).replace(b"\n", b"\n\n", 1) + b"\n\n"
    assert refusals(content) == [(4, "frequency-unknown")]


def test_a_row_cut_short_or_with_a_stray_comma_is_refused_alone():
    content = navaids({}, {"name": "cut, here"}, {}).replace(b'"cut, here"', b"cut, here")
    content = content[: content.rindex(b",114300,090X")]
    assert refusals(content) == [(3, "row-too-long"), (4, "row-too-short")]
    assert len(read(content).rows) == 1


def test_a_row_cut_short_is_still_known_by_its_key():
    content = navaids({}, {})
    reading = read(content[: content.rindex(b",114300,090X")])
    assert [row.key for row in reading.refused] == ["ourairports:2"]
    reading = read(content[: content.rindex(b"2,,SKR") + 1])
    assert [row.key for row in reading.refused] == [""], "the key itself may have been cut"


def test_a_quote_left_open_costs_one_row_and_not_the_rest_of_the_file():
    content = navaids({}, {"name": "broken"}, {}, {}).replace(b"broken", b'"broken')
    assert refusals(content) == [(3, "quote-left-open")]
    assert [row.external_key for row in read(content).rows] == ["ourairports:1", "ourairports:3", "ourairports:4"]


def test_two_quotes_left_open_cost_two_rows():
    content = navaids({"name": "broken"}, {}, {"name": "broken"}, {}).replace(b"broken", b'"broken')
    assert refusals(content) == [(2, "quote-left-open"), (4, "quote-left-open")]


def test_control_characters_and_endless_cells_cost_their_row_only():
    names = ("A\x00B", "x" * 200_000, "x" * 20_000, "x" * 500, "x" * 2_000_000, "," * 2_000_000)
    content = navaids(*({"name": name} for name in names), {})
    codes = ["control-character", "row-unreadable", "text-too-long", "text-too-long", "row-unreadable", "row-unreadable"]
    assert refusals(content) == list(enumerate(codes, 2))
    assert len(read(content).rows) == 1


def test_a_table_of_nothing_but_line_ends_is_refused_before_it_is_split():
    with pytest.raises(InputProblem, match="more than 1,000,000 lines"):
        read(b"ident" + b"\n" * 2_000_001)


def test_a_key_that_stands_twice_keeps_the_first_row():
    reading = read(navaids({"id": "5"}, {"id": "5", "ident": "TWO"}))
    assert [row.ident for row in reading.rows] == ["SKR"]
    assert reading.refused[0].code == "key-twice"
    assert "already stands in line 2" in reading.refused[0].reason


@pytest.mark.parametrize("text", ["nan", "inf", "1e999", "1_0", "４３", "²", "43,5", "0x10", "--1", ""])
def test_odd_numbers_are_refused_and_not_guessed(text: str):
    reading = read(navaids({"latitude_deg": text}))
    assert reading.rows == ()
    assert reading.refused[0].code == ("position-missing" if text == "" else "not-a-number")


def test_every_row_is_taken_or_refused():
    changes = [{"frequency_khz": str(number * 4_000)} for number in range(60)]
    reading = read(navaids(*changes))
    assert reading.row_count == 60
    assert reading.rows
    assert reading.refused


def test_a_stream_is_refused_as_soon_as_it_passes_the_limit():
    class Endless(io.RawIOBase):
        given = 0

        def read(self, size: int = -1) -> bytes:
            self.given += size
            return b"x" * size

    endless = Endless()
    with pytest.raises(InputProblem, match=r"big\.csv is larger than 2 MB"):
        read_limited(endless, name="big.csv", limit_bytes=2 * 1024 * 1024)
    assert endless.given <= 3 * 1024 * 1024
    assert read_limited(io.BytesIO(b"abc"), name="small.csv") == b"abc"


def test_the_format_is_told_by_the_header_and_not_by_the_name():
    assert read(navaids({})).format_name == "OurAirports navaids"
    assert read(table(OUR_BEACON)).format_name == "Beaconry beacons"
    assert set(NAVAID) <= set(NAVAID_COLUMNS)
