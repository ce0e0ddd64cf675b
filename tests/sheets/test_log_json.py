"""The log as JSON: strict, unrounded, with units in the names."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np

from server.planning.log import ProfilePoint
from server.sheets.log_json import log_as_json
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
