"""Our own tables as a person writes them: what may be left out, what is refused, and the grammar of limits."""

from __future__ import annotations

from datetime import date

import pytest

from server.exchange import read_airfields, read_beacons, read_checkpoints, write_airfields, write_beacons, write_checkpoints
from server.navigation import AlignmentKind, Position, Runway
from server.radio import BeaconKind, ComponentKind, ComponentStatus, CoverageSector, Outage, ServiceClass, UnusableSector
from tests.exchange.table_builders import OUR_AIRFIELD, OUR_BEACON, OUR_CHECKPOINT, table


def read_one(**change: str):
    reading = read_beacons(table({**OUR_BEACON, **change}), region_id=2, name="beacons.csv")
    assert reading.refused == ()
    return reading.rows[0], [warning.code for warning in reading.warnings]


def refuse_one(**change: str):
    reading = read_beacons(table({**OUR_BEACON, **change}), region_id=2, name="beacons.csv")
    assert reading.rows == ()
    return reading.refused[0]


def azimuth(**change: str):
    return read_one(**change)[0].component(ComponentKind.AZIMUTH)


def test_a_row_with_the_required_columns_alone_is_a_beacon():
    required = {column: OUR_BEACON[column] for column in ("ident", "name", "kind", "frequency_khz", "lat_deg", "lon_deg")}
    reading = read_beacons(table(required), region_id=2, name="beacons.csv")
    beacon = reading.rows[0]
    assert beacon.alignment.kind is AlignmentKind.UNKNOWN
    assert beacon.elevation_ft is None
    assert [part.status for part in beacon.components] == [ComponentStatus.UNKNOWN, ComponentStatus.UNKNOWN]
    assert beacon.external_key == "own:VOR/DME|SKR"
    assert reading.sources == ()


def test_each_part_has_its_own_columns():
    beacon, warnings = read_one(
        azimuth_status="operating",
        azimuth_class="VH",
        distance_status="Out of Service",
        distance_class="dh",
        distance_lat_deg="43.515",
        distance_lon_deg="-36.275",
        distance_elevation_ft="800",
        distance_last_confirmed="2026-05-01",
        last_confirmed="2026-04-01",
    )
    first, second = beacon.components
    assert warnings == ["dme-elsewhere"]
    assert (first.status, first.service_class, first.position) == (ComponentStatus.OPERATING, ServiceClass.VH, None)
    assert (second.status, second.service_class) == (ComponentStatus.OUT_OF_SERVICE, ServiceClass.DH)
    assert second.position == Position(lat_deg=43.515, lon_deg=-36.275)
    assert (first.last_confirmed, second.last_confirmed) == (date(2026, 4, 1), date(2026, 5, 1))


def test_a_part_may_be_absent():
    beacon, _ = read_one(azimuth_status="absent")
    assert [part.kind for part in beacon.components] == [ComponentKind.DISTANCE]
    assert not beacon.guides_vor_receiver


@pytest.mark.parametrize(
    ("kind", "given", "alignment_kind", "declination_deg"),
    [
        ("", "-11.5", AlignmentKind.MAGNETIC, -11.5),
        ("", "0", AlignmentKind.MAGNETIC, 0.0),
        ("", "", AlignmentKind.UNKNOWN, None),
        ("true", "", AlignmentKind.TRUE, 0.0),
        ("grid", "12", AlignmentKind.GRID, 12.0),
        ("unknown", "", AlignmentKind.UNKNOWN, None),
    ],
)
def test_alignment_kind_and_value(kind: str, given: str, alignment_kind: AlignmentKind, declination_deg: float | None):
    alignment = read_one(alignment_kind=kind, alignment_deg=given)[0].alignment
    assert (alignment.kind, alignment.declination_deg) == (alignment_kind, declination_deg)


def test_sectors_as_notices_write_them():
    # Wording of published notices: unusable 125-145 beyond 20 NM below 3,200 ft, beyond 30 below 5,200; coverage 80 NM from 045 to 135,
    # 60 NM from 135 round through north to 045.
    part = azimuth(
        unusable="azimuth 125-145 beyond 20 below 3200 (notice of 2026-04-02); azimuth 350-010 within 5;"
        " AZIMUTH 125-145 Beyond 30 below 5200",
        coverage="azimuth 045-135 range 80 from 2000 to 18000; azimuth 135-045 range 60",
    )
    assert part.unusable == (
        UnusableSector(from_radial_deg=125, to_radial_deg=145, beyond_nm=20, below_altitude_ft=3200, source="notice of 2026-04-02"),
        UnusableSector(from_radial_deg=350, to_radial_deg=10, within_nm=5),
        UnusableSector(from_radial_deg=125, to_radial_deg=145, beyond_nm=30, below_altitude_ft=5200),
    )
    assert part.coverage == (
        CoverageSector(from_radial_deg=45, to_radial_deg=135, range_nm=80, lowest_altitude_ft=2000, highest_altitude_ft=18_000),
        CoverageSector(from_radial_deg=135, to_radial_deg=45, range_nm=60),
    )


def test_outages_with_open_ends_and_odd_words():
    part = azimuth(
        outages=r"azimuth 2026-05-01..2026-05-20 (mast; \(north\) side); azimuth 2026-08-01..; azimuth ..2026-01-31; distance .."
    )
    assert part.outages == (
        Outage(first_day=date(2026, 5, 1), last_day=date(2026, 5, 20), reason="mast; (north) side"),
        Outage(first_day=date(2026, 8, 1)),
        Outage(last_day=date(2026, 1, 31)),
    )


@pytest.mark.parametrize(
    "change",
    [
        {"unusable": "125-145 beyond 20"},
        {"unusable": "azimuth 125 beyond 20"},
        {"unusable": "azimuth 125-365"},
        {"unusable": "azimuth 125-145 beyond"},
        {"unusable": "azimuth 125-145 beyond 20 beyond 30"},
        {"unusable": "azimuth 125-145 above 20"},
        {"unusable": "azimuth 125-145 beyond 1e3"},
        {"unusable": "azimuth 125-145 (open"},
        {"unusable": "azimuth 125-145 ) beyond 3"},
        {"coverage": "azimuth 045-135 from 2000"},
        {"outages": "azimuth 2026-05-01"},
        {"outages": "azimuth 2026-02-30.."},
        {"outages": "azimuth 2026-05-20..2026-05-01"},
    ],
)
def test_limits_that_cannot_be_read_refuse_the_row_and_say_why(change: dict[str, str]):
    refused = refuse_one(**change)
    assert refused.code == "limits-unreadable"
    assert "cannot be read: " in refused.reason


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"kind": "VOT"}, "word-not-known"),
        ({"kind": ""}, "value-missing"),
        ({"name": ""}, "value-missing"),
        ({"frequency_khz": "114.3"}, "not-a-whole-number"),
        ({"frequency_khz": "370"}, "frequency-out-of-band"),
        ({"azimuth_status": "fine"}, "word-not-known"),
        ({"azimuth_class": "DH"}, "class-of-another-part"),
        ({"azimuth_class": "MH"}, "class-of-another-part"),
        ({"bearing_class": "MH"}, "part-not-there"),
        ({"unusable": "bearing 0-360"}, "part-not-there"),
        ({"azimuth_status": "absent", "azimuth_class": "H"}, "part-not-there"),
        ({"alignment_kind": "unknown"}, "alignment-contradicts"),
        ({"alignment_kind": "true"}, "alignment-contradicts"),
        ({"alignment_kind": "magnetic", "alignment_deg": ""}, "alignment-contradicts"),
        ({"alignment_year": "65"}, "number-out-of-range"),
        ({"azimuth_last_confirmed": "1.5.2026"}, "not-a-date"),
        ({"voice": "perhaps"}, "word-not-known"),
        ({"antenna_height_ft": "-5"}, "number-out-of-range"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_reason(change: dict[str, str], code: str):
    assert refuse_one(**change).code == code


def test_a_blank_frequency_is_unknown_and_said_so():
    beacon, warnings = read_one(frequency_khz="", channel="")
    assert beacon.frequency_khz is None
    assert warnings == ["frequency-unknown"]


@pytest.mark.parametrize(
    ("key", "file_name", "external_key"),
    [
        ("club:skr", "any.csv", "club:skr"),
        ("skr", "Club NDBs.csv", "own:skr"),
        ("", "self.csv", "own:VOR/DME|SKR"),
        ("", "self_july.csv", "own:VOR/DME|SKR"),
    ],
)
def test_a_row_that_names_no_source_is_our_own_whatever_the_file_is_called(key: str, file_name: str, external_key: str):
    reading = read_beacons(table({**OUR_BEACON, "key": key}), region_id=2, name=file_name)
    assert reading.rows[0].external_key == external_key


def test_airfields_and_checkpoints_without_a_key_are_known_by_ident_and_name():
    field = read_airfields(table({**OUR_AIRFIELD, "key": ""}), region_id=2, name="fields.csv").rows[0]
    checkpoint = read_checkpoints(table({**OUR_CHECKPOINT, "key": ""}), region_id=2, name="marks.csv").rows[0]
    assert (field.external_key, checkpoint.external_key) == ("own:XNOR", "own:Long Lake")


@pytest.mark.parametrize("key_source", ["", "skerry"])
def test_rows_without_a_key_that_nothing_tells_apart_are_all_refused_and_told_to_give_one(key_source: str):
    twin = {**OUR_BEACON, "key": "", "lat_deg": "43.9"}
    other = {**OUR_BEACON, "key": "", "ident": "MUL", "name": "Mull"}
    reading = read_beacons(table({**OUR_BEACON, "key": ""}, other, twin), region_id=2, name="beacons.csv", key_source=key_source)
    assert [beacon.ident for beacon in reading.rows] == ["MUL"]
    assert [(row.line_number, row.code) for row in reading.refused] == [(2, "key-twice"), (4, "key-twice")]
    assert all("give them a key column" in row.reason for row in reading.refused)
    assert "Lines 2, 4" in reading.refused[0].reason
    assert len({row.key for row in reading.refused}) == 1, "so that what is stored under it does not count as gone"


def test_of_two_rows_without_a_key_of_which_one_is_damaged_neither_is_taken_for_the_other():
    damaged = {**OUR_BEACON, "key": "", "frequency_khz": "370"}
    reading = read_beacons(table({**OUR_BEACON, "key": ""}, damaged), region_id=2, name="beacons.csv")
    assert [(row.line_number, row.code) for row in reading.refused] == [(2, "key-twice"), (3, "frequency-out-of-band")]


def test_a_key_of_its_own_tells_two_rows_of_one_ident_apart():
    rows = ({**OUR_BEACON, "key": ""}, {**OUR_BEACON, "key": "second"})
    reading = read_beacons(table(*rows), region_id=2, name="beacons.csv")
    assert [beacon.external_key for beacon in reading.rows] == ["own:VOR/DME|SKR", "own:second"]


def test_our_table_is_never_the_complete_list_of_a_source_that_others_add_to():
    rows = ({**OUR_BEACON, "key": key} for key in ("ourairports:1", "nasr:X", "own:1", "2", "club:1"))
    assert read_beacons(table(*rows), region_id=2, name="beacons.csv").sources == ("club:",)


def test_what_was_read_without_a_key_is_written_with_it_and_read_back_the_same():
    rows = ({**OUR_BEACON, "key": ""}, {**OUR_BEACON, "key": "", "ident": "MUL"})
    read = read_beacons(table(*rows), region_id=2, name="self.csv").rows
    again = read_beacons(write_beacons(read), region_id=2, name="export.csv")
    assert (again.rows, again.sources) == (read, ())


def test_airfields_with_runways_and_zone():
    row = {**OUR_AIRFIELD, "runways": "09/27 850 m (grass); 14/32", "time_zone": "Atlantic/Azores", "closed": "no"}
    field = read_airfields(table(row), region_id=2, name="airfields.csv").rows[0]
    assert field.runways == (Runway(designator="09/27", length_m=850.0, surface="grass"), Runway(designator="14/32"))
    assert (field.time_zone, field.closed, field.ident) == ("Atlantic/Azores", False, "XNOR")


@pytest.mark.parametrize("runways", ["09/27 850", "09/27 850 ft", "09/27 long m", "(grass)", "09/27 99999 m"])
def test_a_runway_that_cannot_be_read_refuses_the_row(runways: str):
    reading = read_airfields(table({**OUR_AIRFIELD, "runways": runways}), region_id=2, name="airfields.csv")
    assert [row.code for row in reading.refused] == ["limits-unreadable"]


@pytest.mark.parametrize("zone", ["Mars/Olympus", "../../etc/passwd", "/etc/localtime", "A\\B"])
def test_a_time_zone_that_is_none_is_left_unknown(zone: str):
    reading = read_airfields(table({**OUR_AIRFIELD, "time_zone": zone}), region_id=2, name="airfields.csv")
    assert reading.rows[0].time_zone == ""
    assert [warning.code for warning in reading.warnings] == ["time-zone-unknown"]


def test_checkpoints():
    checkpoint = read_checkpoints(table(OUR_CHECKPOINT), region_id=2, name="checkpoints.csv").rows[0]
    assert (checkpoint.name, checkpoint.feature, checkpoint.elevation_ft) == ("Long Lake", "lake", None)
    assert checkpoint.position == Position(lat_deg=43.3, lon_deg=-36.2)


def test_an_empty_table_is_a_form_to_fill_in():
    for written, required in (
        (write_beacons([]), ("ident", "name", "kind", "frequency_khz", "lat_deg", "lon_deg")),
        (write_airfields([]), ("ident", "name", "lat_deg", "lon_deg")),
        (write_checkpoints([]), ("name", "feature", "lat_deg", "lon_deg")),
    ):
        header = written.decode().splitlines()
        assert len(header) == 1
        assert all(f'"{column}"' in header[0] for column in required)


def test_every_written_cell_is_quoted():
    beacon, _ = read_one(ident="MAR", key="club:1E5")
    row = write_beacons([beacon]).decode().splitlines()[1]
    assert row.startswith('"club:1E5","MAR",')
    assert all(cell.startswith('"') and cell.endswith('"') for cell in row.split(","))
    assert beacon.kind is BeaconKind.VOR_DME
