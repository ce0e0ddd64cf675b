"""The log as JSON: strict, unrounded, with units in the names."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np

from server.navigation import Position, destination
from server.planning import plan
from server.planning.log import ProfilePoint
from server.sheets.log_json import DERIVED, log_as_json
from tests.planning.planning_builders import a_vor, materials_for, over
from tests.sheets.sheet_builders import HOSTILE, a_hostile_log, a_log


def strict(data: bytes):
    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    return json.loads(data, parse_constant=refuse)


def test_values_are_unrounded_and_keep_the_names_and_units_of_the_log():
    log = a_log()
    read = strict(log_as_json(log))
    assert read["format"] == "beaconry-log-1"
    for leg, value in zip(read["legs"], log.legs, strict=True):
        assert leg["track_true_deg"] == value.track_true_deg
        assert leg["distance_nm"] == value.distance_nm
        assert leg["fuel_l"] == value.fuel_l
        assert leg["wind"] == {"from_true_deg": 348.0, "from_magnetic_deg": 2.2, "speed_kt": 12.4}
    lost = read["legs"][1]["receptions"][0]["stretches"][2]
    assert (lost["state"], lost["findings"][0]["cause"]) == ("not received", "terrain")
    assert read["legs"][1]["guidance"][1]["sense"] == "TO"


def test_times_are_utc_with_their_letter():
    assert strict(log_as_json(a_log()))["departure_utc"] == "2026-06-20T14:10:00Z"


def test_numbers_that_are_not_finite_become_null_whatever_made_them():
    log = a_log(
        total_distance_nm=math.nan,
        total_time_min=math.inf,
        profile=(
            ProfilePoint(distance_nm=np.float64("nan"), altitude_ft=np.float32(6500.0)),
            ProfilePoint(distance_nm=np.int64(3), altitude_ft=0),
        ),
    )
    read = strict(log_as_json(log))
    assert read["total_distance_nm"] is None
    assert read["total_time_min"] is None
    assert read["profile"] == [{"distance_nm": None, "altitude_ft": 6500.0}, {"distance_nm": 3, "altitude_ft": 0}]


def test_hostile_text_survives_the_round_trip_even_a_lone_surrogate():
    log = a_hostile_log()
    assert strict(log_as_json(log))["region_name"] == HOSTILE
    odd = replace(log, region_name="half \ud800 pair \u2028 line")
    assert strict(log_as_json(odd))["region_name"] == odd.region_name


def test_checks_ways_out_lost_strips_and_sun_are_in_it_with_what_follows_from_them():
    """A flight of two legs over a beacon, with a stretch before the first that nothing guides; dates and enumerations as text."""
    station = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.8))
    beside = a_vor("BBB", destination(station.position, bearing_true_deg=40.0, distance_nm=30.0))
    log = plan(materials_for(over(station), beacons=(station, beside))).log
    read = strict(log_as_json(log))
    assert len(read["cross_checks"]) == len(read["gaps"]) == len(read["lost"]) == len(log.legs) == 2
    line = next(check for checks in log.cross_checks for check in checks if check.lines).lines[0]
    written = next(check for checks in read["cross_checks"] for check in checks if check["lines"])["lines"][0]
    assert (written["radial_deg"], written["weak"], written["kind"]) == (line.radial_deg, line.weak, line.kind.value)
    assert read["passages"][0]["minutes_in_cone"] == log.passages[0].minutes_in_cone
    assert read["passages"][0]["changes_course"] == log.passages[0].changes_course
    gap, held = next((gap, held) for gaps, helds in zip(log.gaps, read["gaps"], strict=True) for gap, held in zip(gaps, helds, strict=True))
    assert (held["length_nm"], held["off_at_end_nm"]) == (gap.length_nm, gap.off_at_end_nm)
    way, told = log.diversions[1].diversions[0], read["diversions"][1]["diversions"][0]
    assert (told["airfield"]["ident"], told["minutes"], told["fuel_l"]) == (way.airfield.ident, way.minutes, way.fuel_l)
    assert told["aid"]["sense"] in ("TO", "FROM")
    assert read["lost"][1]["distress"] == {"frequency_khz": 121500, "transponder": "7700"}
    assert [each["beacon"]["ident"] for each in read["lost"][1]["lines"]] == [each.beacon.ident for each in log.lost[1].lines]
    assert read["sun"]["arrival"]["light"] == "day"
    assert read["sun"]["arrival"]["sunset"]["at_utc"].startswith("2026-08-01T") and read["sun"]["arrival"]["sunset"]["at_utc"].endswith("Z")


def test_every_name_that_follows_from_a_value_is_there_to_be_written():
    assert [name for kind, names in DERIVED.items() for name in names if not isinstance(getattr(kind, name), property)] == []
