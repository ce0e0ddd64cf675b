"""The open world table of beacons: each known quirk is taken, taken with a warning, or refused with its reason.

The quirks are those measured in the published file of 22 Aug 2026 (public domain); the rules they break are named beside each test.
"""

from __future__ import annotations

import csv
import io

import pytest

from server.exchange import read_beacons
from server.navigation import AlignmentKind, Position
from server.radio import BeaconKind, ComponentKind, ComponentStatus
from tests.exchange.table_builders import NDB, navaids


def read_one(**change: str):
    """Return the beacon of one row and the codes of its warnings."""
    reading = read_beacons(navaids(change), region_id=3, name="navaids.csv")
    assert reading.refused == ()
    return reading.rows[0], [warning.code for warning in reading.warnings]


def refuse_one(**change: str):
    reading = read_beacons(navaids(change), region_id=3, name="navaids.csv")
    assert reading.rows == ()
    return reading.refused[0]


def test_a_plain_row_becomes_a_beacon_with_unknown_class_and_status():
    beacon, warnings = read_one(id="7")
    assert warnings == []
    assert (beacon.ident, beacon.name, beacon.kind, beacon.frequency_khz, beacon.channel) == (
        "SKR",
        "Skerry",
        BeaconKind.VOR_DME,
        114_300,
        "90X",
    )
    assert beacon.position == Position(lat_deg=43.51, lon_deg=-36.27)
    assert beacon.elevation_ft == 812.0
    assert beacon.external_key == "ourairports:7"
    assert beacon.region_id == 3
    assert [part.kind for part in beacon.components] == [ComponentKind.AZIMUTH, ComponentKind.DISTANCE]
    assert {part.status for part in beacon.components} == {ComponentStatus.UNKNOWN}
    assert {part.service_class for part in beacon.components} == {None}
    assert "Country NA." in beacon.remarks
    assert "power HIGH" in beacon.remarks


@pytest.mark.parametrize(
    ("published", "kind"),
    [
        ("VOR", BeaconKind.VOR),
        ("VORTAC", BeaconKind.VORTAC),
        ("TACAN", BeaconKind.TACAN),
        ("DME", BeaconKind.DME),
        ("VOR-DME", BeaconKind.VOR_DME),
    ],
)
def test_types_of_the_table_become_kinds(published: str, kind: BeaconKind):
    assert read_one(type=published)[0].kind is kind


@pytest.mark.parametrize(
    ("published_deg", "declination_deg"),
    [("17.001", 17.0), ("2.007", 2.0), ("0.011", 0.0), ("0", 0.0), ("-1.307", -1.0), ("-48.005", -48.0), ("-0.5", 0.0)],
)
def test_decimals_of_the_alignment_are_cut_toward_zero(published_deg: str, declination_deg: float):
    beacon, _ = read_one(slaved_variation_deg=published_deg, magnetic_variation_deg="")
    assert beacon.alignment.kind is AlignmentKind.MAGNETIC
    assert beacon.alignment.declination_deg == declination_deg


def test_a_blank_alignment_is_unknown_and_not_zero():
    beacon, warnings = read_one(slaved_variation_deg="")
    assert beacon.alignment.kind is AlignmentKind.UNKNOWN
    assert beacon.alignment.declination_deg is None
    assert warnings == ["alignment-unknown"]


def test_an_alignment_far_from_local_variation_is_flagged_and_kept():
    # Resolute Bay as published: -48.005 where the variation is -31.332.
    beacon, warnings = read_one(slaved_variation_deg="-48.005", magnetic_variation_deg="-31.332", latitude_deg="74.728")
    assert beacon.alignment.declination_deg == -48.0
    assert warnings == ["alignment-far-from-variation"]


def test_variations_either_side_of_180_are_compared_round_the_circle():
    assert read_one(slaved_variation_deg="179", magnetic_variation_deg="-178")[1] == []


def test_zero_alignment_in_the_far_north_may_be_true_north_and_stays_magnetic():
    beacon, warnings = read_one(slaved_variation_deg="0.001", magnetic_variation_deg="-21.3", latitude_deg="62.81")
    assert beacon.alignment.kind is AlignmentKind.MAGNETIC
    assert beacon.alignment.declination_deg == 0.0
    assert warnings == ["alignment-perhaps-true"]
    assert read_one(slaved_variation_deg="0", magnetic_variation_deg="-5", latitude_deg="33.6")[1] == []


@pytest.mark.parametrize("published", ["-1", "0"])
def test_an_unknown_frequency_is_refused(published: str):
    assert refuse_one(frequency_khz=published).code == "frequency-unknown"


@pytest.mark.parametrize("published", ["11495", "114.95", "1149500", "107950", "118000", "114333", "370"])
def test_a_frequency_that_no_vor_has_is_refused(published: str):
    # VOR band and spacing: ICAO Annex 10 Vol I 3.3.2.
    assert refuse_one(type="VOR", frequency_khz=published).code in ("frequency-out-of-band", "not-a-whole-number")


def test_a_slipped_digit_is_guessed_for_a_person_and_never_repaired():
    refused = refuse_one(frequency_khz="11495")
    assert "Perhaps a digit is missing and 114.95 MHz is meant" in refused.reason
    assert refused.line_number == 2
    assert refused.key == "ourairports:1"


@pytest.mark.parametrize("published", ["113", "165", "678", "1290"])
def test_ndbs_outside_190_to_535_khz_are_taken_with_a_warning(published: str):
    beacon, warnings = read_one(**{**NDB, "frequency_khz": published})
    assert beacon.frequency_khz == int(published)
    assert warnings == ["frequency-unusual-for-ndb"]


@pytest.mark.parametrize("published", ["373000", "3730", "37"])
def test_an_ndb_frequency_of_another_band_is_refused(published: str):
    assert refuse_one(**{**NDB, "frequency_khz": published}).code == "frequency-out-of-band"


def test_a_tacan_above_the_vor_band_is_a_tacan_and_a_vor_there_is_refused():
    # 133.30 MHz stands for channel 60X, which has no VHF pair.
    beacon, warnings = read_one(type="TACAN", frequency_khz="133300", dme_frequency_khz="133300", dme_channel="060X")
    assert (beacon.kind, beacon.channel) == (BeaconKind.TACAN, "60X")
    assert warnings == ["frequency-beyond-vor"]
    assert not beacon.guides_vor_receiver
    assert refuse_one(type="VOR", frequency_khz="133300").code == "frequency-out-of-band"


def test_a_channel_that_does_not_pair_is_flagged_with_the_right_one():
    # ICAO Annex 10 Vol I, Table A: 112.05 MHz pairs with 57Y. Beograd is listed with 070X.
    reading = read_beacons(navaids({"frequency_khz": "112050", "dme_frequency_khz": "", "dme_channel": "070X"}), region_id=1, name="n")
    assert reading.rows[0].channel == "70X"
    assert [warning.code for warning in reading.warnings] == ["channel-not-paired"]
    assert "pairs with 57Y" in reading.warnings[0].message


def test_a_missing_channel_stays_missing():
    beacon, warnings = read_one(dme_channel="")
    assert beacon.channel == ""
    assert warnings == ["channel-missing"]


def test_a_dme_on_another_frequency_than_its_vor_is_flagged():
    assert read_one(dme_frequency_khz="113900", dme_channel="086X")[1] == ["dme-frequency-differs"]


def test_a_dme_that_stands_elsewhere_keeps_its_own_place():
    # Ellisras as published: half a mile apart.
    beacon, warnings = read_one(
        latitude_deg="-23.625200271606445",
        longitude_deg="27.964399337768555",
        dme_latitude_deg="-23.6256",
        dme_longitude_deg="27.9556",
        dme_elevation_ft="3790",
        magnetic_variation_deg="",
    )
    assert beacon.component_position(ComponentKind.DISTANCE) == Position(lat_deg=-23.6256, lon_deg=27.9556)
    assert beacon.component(ComponentKind.DISTANCE).elevation_ft == 3790.0
    assert beacon.component(ComponentKind.AZIMUTH).position is None
    assert warnings == ["dme-elsewhere"]


def test_a_dme_in_another_country_is_refused():
    assert refuse_one(dme_latitude_deg="53.51", dme_longitude_deg="-36.27").code == "dme-position-impossible"


def test_a_blank_elevation_stays_unknown_and_one_below_the_sea_is_legal():
    assert read_one(elevation_ft="")[0].elevation_ft is None
    beacon, warnings = read_one(elevation_ft="-1200")  # the shore of the Dead Sea
    assert beacon.elevation_ft == -1200.0
    assert warnings == ["elevation-below-sea"]
    assert refuse_one(elevation_ft="99999").code == "elevation-impossible"


@pytest.mark.parametrize("ident", ["NAN", "ON", "NO", "OFF", "N", "F", "AUG", "MAR", "DEC", "1E5", "NULL", "007"])
def test_idents_that_look_like_something_else_are_text(ident: str):
    assert read_one(ident=ident)[0].ident == ident


@pytest.mark.parametrize(("published", "ident"), [("skr", "SKR"), ("SKR ", "SKR")])
def test_an_ident_in_lower_case_or_with_a_blank_is_read_with_a_warning(published: str, ident: str):
    beacon, warnings = read_one(ident=published)
    assert beacon.ident == ident
    assert warnings == ["ident-normalised"]


def test_an_ident_of_four_characters_is_taken_with_a_warning():
    beacon, warnings = read_one(**{**NDB, "ident": "TAJI"})
    assert beacon.ident == "TAJI"
    assert warnings == ["ident-of-four"]


@pytest.mark.parametrize("ident", ["Wau_NDB_", "", "S-R", "ABCDE", "S'R"])
def test_an_ident_that_no_station_sends_is_refused(ident: str):
    assert refuse_one(ident=ident).code == "ident-not-usable"


def test_a_cyrillic_look_alike_in_an_ident_is_named():
    refused = refuse_one(ident="S\u041aR")
    assert refused.code == "ident-not-usable"
    assert "U+041A" in refused.reason
    assert "Cyrillic" in refused.reason


@pytest.mark.parametrize(
    "name", ["Skerry (Closed May 2016)", "Skerry (DECOMMISSIONED)", "Skerry (Decommissioned)", "Skerry (DECOMISSIONED)"]
)
def test_a_station_closed_only_by_its_name_is_withdrawn(name: str):
    beacon, warnings = read_one(name=name)
    assert {part.status for part in beacon.components} == {ComponentStatus.WITHDRAWN}
    assert warnings == ["closed-by-name"]


@pytest.mark.parametrize("name", ["Pohang (Navy)", "Cocos (Keeling) Island", "Closed Creek", 'O\'Hara, "Mast"', "Châteaudun", "=1+1"])
def test_other_names_are_kept_and_change_no_status(name: str):
    beacon, warnings = read_one(name=name)
    assert beacon.name == name
    assert {part.status for part in beacon.components} == {ComponentStatus.UNKNOWN}
    assert warnings == []


@pytest.mark.parametrize("published", ["VOT", "FAN MARKER", "ILS", "GLIDE"])
def test_what_does_not_guide_along_a_route_is_refused(published: str):
    assert refuse_one(type=published).code == "not-for-guidance"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"latitude_deg": "96"}, "position-impossible"),
        ({"longitude_deg": "181"}, "position-impossible"),
        ({"latitude_deg": "0", "longitude_deg": "0"}, "position-impossible"),
        ({"latitude_deg": ""}, "position-missing"),
        ({"dme_latitude_deg": "43.5"}, "position-missing"),
        ({"slaved_variation_deg": "190"}, "number-out-of-range"),
        ({"dme_channel": "127X"}, "channel-impossible"),
        ({"id": ""}, "value-missing"),
    ],
)
def test_impossible_values_are_refused(change: dict[str, str], code: str):
    assert refuse_one(**change).code == code


def test_a_position_in_whole_degrees_is_flagged():
    assert read_one(longitude_deg="88")[1] == ["position-coarse"]


@pytest.mark.parametrize(
    ("lat", "lon", "words"),
    [
        ("50.7", "-6", "In the position, longitude -6 is a whole number of degrees"),
        ("43.6", "-36.0", "In the position, longitude -36 is a whole number of degrees"),
        ("50", "-6", "In the position, latitude 50 and longitude -6 are whole numbers of degrees"),
    ],
)
def test_warning_of_a_coarse_position_names_what_is_whole(lat: str, lon: str, words: str):
    reading = read_beacons(navaids({"latitude_deg": lat, "longitude_deg": lon}), region_id=1, name="navaids.csv")
    assert next(warning.message for warning in reading.warnings if warning.code == "position-coarse").startswith(words)


def test_two_stations_of_one_ident_are_both_taken():
    reading = read_beacons(navaids({}, NDB), region_id=1, name="navaids.csv")
    assert [beacon.kind for beacon in reading.rows] == [BeaconKind.VOR_DME, BeaconKind.NDB]


EXPECTED_OF_DIRTY_ROW = {
    "ndblo": "frequency-unusual-for-ndb",
    "ndbhi": "frequency-unusual-for-ndb",
    "tacanhi": "frequency-beyond-vor",
    "round": "position-coarse",
    "elev": "elevation-below-sea",
    "chan": "channel-not-paired",
    "nochan": "channel-missing",
    "neg": "frequency-unknown",
    "dmepos": "dme-elsewhere",
    "ident": "ident-of-four",
    "slaved": "alignment-far-from-variation",
    # Nothing in such a row is wrong by itself: it is taken as it stands.
    **dict.fromkeys(("velev", "magblank", "utf8", "NA", "useblank", "punk", "stale", "multi", "cosite", "decom"), ""),
}


def test_every_dirty_row_of_the_world_table_is_handled(open_data):
    folder = open_data / "navaids_world"
    reading = read_beacons((folder / "dirty_rows.csv").read_bytes(), region_id=1, name="dirty_rows.csv")
    reasons = list(csv.DictReader(io.StringIO((folder / "dirty_rows_reasons.csv").read_text(encoding="utf-8"))))
    found: dict[str, set[str]] = {}
    for entry in (*reading.refused, *reading.warnings):
        found.setdefault(entry.key, set()).add(entry.code)
    assert reading.row_count == len(reasons) == 41
    for reason in reasons:
        expected = EXPECTED_OF_DIRTY_ROW[reason["kind"]]
        codes = found.get(f"ourairports:{reason['id']}", set())
        assert expected in codes or (not expected and not codes & set(reading.refused_by_code())), reason


def test_the_whole_world_table_is_taken_but_for_six_rows(open_data):
    # Counts of the folder's README: four frequencies of -1 and one slipped digit (quirk 1), one ident of more than four (quirk 11),
    # 77 + 269 NDBs outside 190-535 kHz less three of -1 that are no such frequency, 26 TACANs above the band, 23 whole degrees.
    reading = read_beacons((open_data / "navaids_world" / "navaids.csv").read_bytes(), region_id=1, name="navaids.csv")
    assert reading.row_count == 10_870
    assert reading.refused_by_code() == {"frequency-unknown": 4, "frequency-out-of-band": 1, "ident-not-usable": 1}
    warnings = reading.warnings_by_code()
    assert warnings["frequency-beyond-vor"] == 26
    assert warnings["position-coarse"] == 23
    assert sum("Country NA." in beacon.remarks for beacon in reading.rows) == 15
