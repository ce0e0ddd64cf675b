"""The FAA's own list: units by kind, classes and status by part. Column meanings: FAA NASR NAV layout of 22 Jan 2026 (public domain)."""

from __future__ import annotations

from datetime import date

import pytest

from server.exchange import read_beacons
from server.navigation import AlignmentKind
from server.radio import BeaconKind, ComponentKind, ComponentStatus, ServiceClass
from tests.exchange.table_builders import nasr

NDB = {"NAV_TYPE": "NDB", "FREQ": "365", "CHAN": "", "ALT_CODE": "", "DME_SSV": "", "NDB_CLASS_CODE": "MHW"}


def read_one(**change: str):
    reading = read_beacons(nasr(change), region_id=1, name="NAV_BASE.csv")
    assert reading.refused == ()
    return reading.rows[0], [warning.code for warning in reading.warnings]


def part_of(beacon, kind: ComponentKind):
    part = beacon.component(kind)
    assert part is not None
    return part


def test_a_plain_row_carries_class_status_and_date_for_each_part():
    beacon, warnings = read_one(CITY="SKERRY")
    assert warnings == []
    assert (beacon.kind, beacon.frequency_khz, beacon.channel, beacon.voice) == (BeaconKind.VORTAC, 114_300, "90X", True)
    assert (beacon.alignment.kind, beacon.alignment.declination_deg, beacon.alignment.year) == (AlignmentKind.MAGNETIC, -11.0, 1985)
    azimuth, distance = part_of(beacon, ComponentKind.AZIMUTH), part_of(beacon, ComponentKind.DISTANCE)
    assert (azimuth.service_class, distance.service_class) == (ServiceClass.VH, ServiceClass.DH)
    assert (azimuth.status, distance.status) == (ComponentStatus.OPERATING, ComponentStatus.OPERATING)
    assert azimuth.last_confirmed == distance.last_confirmed == date(2026, 1, 22)
    assert beacon.external_key == "nasr:SKR|VORTAC|US|SKERRY"


@pytest.mark.parametrize(("published", "khz"), [("113", 113_000), ("116.65", 116_650), ("108.2", 108_200), ("117.95", 117_950)])
def test_vhf_frequencies_are_megahertz_without_rounding_loss(published: str, khz: int):
    assert read_one(FREQ=published, CHAN="", NAV_TYPE="VOR")[0].frequency_khz == khz


def test_ndb_frequencies_are_kilohertz_in_the_same_column():
    beacon, _ = read_one(**NDB)
    assert (beacon.kind, beacon.frequency_khz) == (BeaconKind.NDB, 365)


@pytest.mark.parametrize(
    ("published", "service_class"),
    [
        # Layout: MH 25 NM, H 50 NM, HH 75 NM, LOM 15 NM; W means no voice.
        ("MHW", ServiceClass.MH),
        ("HW", ServiceClass.NDB_H),
        ("HHW", ServiceClass.HH),
        ("LOMW", ServiceClass.LOCATOR),
        ("MHW/LOM", ServiceClass.MH),
        ("HW/DME", ServiceClass.NDB_H),
        ("HWZ", ServiceClass.NDB_H),
        ("TM", None),
        ("", None),
    ],
)
def test_ndb_class_codes(published: str, service_class: ServiceClass | None):
    beacon, warnings = read_one(**{**NDB, "NDB_CLASS_CODE": published})
    assert part_of(beacon, ComponentKind.BEARING).service_class is service_class
    assert warnings == ([] if service_class else ["class-unknown"])


def test_a_restricted_station_operates_and_tells_the_pilot_what_is_not_loaded():
    beacon, warnings = read_one(NAV_STATUS="OPERATIONAL RESTRICTED")
    assert part_of(beacon, ComponentKind.AZIMUTH).status is ComponentStatus.OPERATING
    assert "RESTRICTED: part of this station's coverage is unusable; the sectors are not loaded" in beacon.remarks
    assert warnings == ["restricted"]


def test_each_part_has_its_own_status():
    beacon, warnings = read_one(NAV_TYPE="VOR/DME", NAV_STATUS="SHUTDOWN", TACAN_DME_STATUS="OPERATIONAL IFR")
    assert part_of(beacon, ComponentKind.AZIMUTH).status is ComponentStatus.OUT_OF_SERVICE
    assert part_of(beacon, ComponentKind.DISTANCE).status is ComponentStatus.OPERATING
    assert warnings == ["out-of-service"]


def test_a_dme_alone_that_one_column_shuts_down_is_shut_down():
    beacon, warnings = read_one(NAV_TYPE="DME", NAV_STATUS="SHUTDOWN", TACAN_DME_STATUS="OPERATIONAL IFR")
    assert part_of(beacon, ComponentKind.DISTANCE).status is ComponentStatus.OUT_OF_SERVICE
    assert warnings == ["status-contradicts", "out-of-service"]


def test_a_status_that_is_not_known_here_is_unknown():
    beacon, warnings = read_one(NAV_STATUS="RESTING")
    assert part_of(beacon, ComponentKind.AZIMUTH).status is ComponentStatus.UNKNOWN
    assert set(warnings) == {"status-unknown"}


def test_the_alignment_of_a_dme_is_ignored_as_the_layout_says():
    assert read_one(NAV_TYPE="DME")[0].alignment.kind is AlignmentKind.UNKNOWN


def test_a_blank_alignment_is_unknown():
    beacon, warnings = read_one(MAG_VARN="", MAG_VARN_HEMIS="", MAG_VARN_YEAR="")
    assert beacon.alignment.declination_deg is None
    assert warnings == ["alignment-unknown"]


@pytest.mark.parametrize("published", ["VOT", "FAN MARKER", "MARINE NDB"])
def test_test_signals_and_markers_are_refused(published: str):
    refused = read_beacons(nasr({"NAV_TYPE": published}), region_id=1, name="NAV_BASE.csv").refused[0]
    assert refused.code == "not-for-guidance"
    assert published in refused.reason


def test_a_tacan_without_frequency_takes_the_one_its_channel_pairs_with():
    # ICAO Annex 10 Vol I, Table A: 75X pairs with 112.80 MHz; channels 1 to 16 pair with none.
    beacon, warnings = read_one(NAV_TYPE="TACAN", FREQ="", CHAN="75X")
    assert beacon.frequency_khz == 112_800
    assert warnings == ["frequency-from-channel"]
    beacon, warnings = read_one(NAV_TYPE="TACAN", FREQ="", CHAN="1X")
    assert (beacon.frequency_khz, beacon.channel) == (None, "1X")
    assert warnings == ["frequency-unknown"]


def test_limited_hours_reach_the_pilot():
    beacon, warnings = read_one(OPER_HOURS="0600-2200")
    assert "Hours: 0600-2200." in beacon.remarks
    assert warnings == ["hours-limited"]


def test_one_latin_1_byte_does_not_stop_the_file():
    reading = read_beacons(nasr({"NAME": "JOSE"}, {}).replace(b"JOSE", b"JOS\xc9"), region_id=1, name="NAV_BASE.csv")
    assert [beacon.name for beacon in reading.rows] == ["JOSÉ", "SKERRY"]


def test_the_whole_list_is_taken_but_for_what_does_not_guide(open_data):
    # Counts of the folder's README: 78 VOT, 12 FAN MARKER and 1 MARINE NDB of 1,650 rows; classes VH 261, VL 190, L 174, H 141, T 53.
    reading = read_beacons((open_data / "navaids_us_nasr" / "NAV_BASE.csv").read_bytes(), region_id=1, name="NAV_BASE.csv")
    assert reading.row_count == 1_650
    assert reading.refused_by_code() == {"not-for-guidance": 91}
    azimuths = [part for beacon in reading.rows if (part := beacon.component(ComponentKind.AZIMUTH))]
    counts = {service_class.value: sum(part.service_class is service_class for part in azimuths) for service_class in ServiceClass}
    assert {word: counts[word] for word in ("VH", "VL", "L", "H", "T")} == {"VH": 261, "VL": 190, "L": 174, "H": 141, "T": 53}
    assert len({beacon.external_key for beacon in reading.rows}) == 1_559
    jrv = [beacon for beacon in reading.rows if beacon.ident == "JRV"]
    assert any("JOS" in beacon.name and beacon.name.isprintable() for beacon in jrv)
