"""Airfields of the open world table: aeroplane fields in, heliports out, blanks stay blank."""

from __future__ import annotations

import pytest

from server.errors import InputProblem
from server.exchange import read_airfields
from tests.exchange.table_builders import OUR_AIRFIELD, table

AIRPORT = {
    "id": "11",
    "ident": "XNOR",
    "type": "small_airport",
    "name": "Northfield",
    "latitude_deg": "43.2",
    "longitude_deg": "-36.1",
    "elevation_ft": "120",
    "iso_country": "NA",
    "municipality": "Northfield",
}
RUNWAY = {"airport_ref": "11", "length_ft": "3100", "surface": "GRVL", "closed": "0", "le_ident": "09", "he_ident": "27"}


def read(*changes: dict[str, str], runways: bytes | None = None):
    rows = [{**AIRPORT, "id": str(10 + number), **change} for number, change in enumerate(changes, 1)]
    return read_airfields(table(*rows), region_id=1, name="airports.csv", runways=runways)


def test_a_small_airport_with_its_open_runways():
    runways = table(
        RUNWAY,
        {**RUNWAY, "closed": "1", "le_ident": "18", "he_ident": "36"},
        {**RUNWAY, "le_ident": "H1", "he_ident": ""},
        {**RUNWAY, "length_ft": "", "le_ident": "14", "he_ident": ""},
        {**RUNWAY, "airport_ref": "99"},
    )
    field = read({}, runways=runways).rows[0]
    assert (field.ident, field.elevation_ft, field.closed, field.time_zone) == ("XNOR", 120.0, False, "")
    assert [runway.designator for runway in field.runways] == ["09/27", "14"]
    assert field.runways[0].length_m == pytest.approx(3100 * 0.3048, abs=0.05)  # exact foot of 1959
    assert field.runways[1].length_m is None


@pytest.mark.parametrize("published", ["heliport", "balloonport", "spaceport"])
def test_what_is_not_for_aeroplanes_is_refused(published: str):
    assert [row.code for row in read({"type": published}).refused] == ["not-for-aeroplanes"]


def test_a_closed_field_is_taken_as_closed_and_a_seaplane_base_says_so():
    closed, base = read({"type": "closed"}, {"type": "seaplane_base"}).rows
    assert closed.closed
    assert "Seaplane base." in base.remarks


def test_a_blank_elevation_stays_unknown():
    assert read({"elevation_ft": ""}).rows[0].elevation_ft is None


@pytest.mark.parametrize("ident", ["US-0001", "01CL", "1E5", "2E3", "NAN"])
def test_idents_are_text(ident: str):
    assert read({"ident": ident}).rows[0].ident == ident


def test_an_unreadable_runway_length_is_unknown_and_costs_no_airfield():
    reading = read({}, runways=table({**RUNWAY, "length_ft": "long"}))
    assert reading.rows[0].runways[0].length_m is None
    assert [warning.code for warning in reading.warnings] == ["runway-length-unread"]


def test_a_runway_table_cannot_go_with_our_own_airfields():
    with pytest.raises(InputProblem, match="holds its own runways"):
        read_airfields(table(OUR_AIRFIELD), region_id=1, name="airfields.csv", runways=table(RUNWAY))


def test_the_sample_of_693_airports(open_data):
    # Counts of the folder's README: 693 rows, 236 of them closed.
    folder = open_data / "airports_sample"
    reading = read_airfields(
        (folder / "airports.csv").read_bytes(), region_id=1, name="airports.csv", runways=(folder / "runways.csv").read_bytes()
    )
    assert reading.row_count == 693
    assert sum(field.closed for field in reading.rows) == 236
    assert set(reading.refused_by_code()) == {"not-for-aeroplanes"}
