"""One part asked at many places answers as it does at each of them alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.navigation import destination
from server.radio import STANDARD_DOUBT, Cause, ComponentKind, ReceptionState, heard_at
from server.radio.hearing import heard_at_places
from tests.builders import ridge_ground
from tests.planning.planning_builders import quick
from tests.radio.radio_builders import DAY, MAST, a_beacon, a_component

RIDGE = quick(ridge_ground(0.0, 900.0, ridge_lon_deg=-35.8))


@pytest.mark.parametrize("kind", [ComponentKind.AZIMUTH, ComponentKind.DISTANCE, ComponentKind.BEARING])
def test_many_places_are_told_as_each_alone(kind):
    beacon = a_beacon(a_component(kind))
    places = [destination(MAST, bearing_true_deg=bearing, distance_nm=away) for bearing, away in ((90, 0.3), (90, 25), (91, 40), (270, 40))]
    altitudes_ft = [3000.0, 2000.0, 2500.0, 2000.0]
    told = heard_at_places(
        beacon=beacon,
        component=beacon.components[0],
        lat_deg=np.array([place.lat_deg for place in places]),
        lon_deg=np.array([place.lon_deg for place in places]),
        altitude_ft=np.array(altitudes_ft),
        ground=RIDGE,
        on=DAY,
        estimated_declination_deg=None,
    )
    for k, (place, altitude_ft) in enumerate(zip(places, altitudes_ft, strict=True)):
        (alone,) = heard_at(
            beacons=[beacon],
            position=place,
            altitude_ft=altitude_ft,
            ground=RIDGE,
            on=DAY,
            estimated_declination_deg=lambda _: 0.0,
            doubt=STANDARD_DOUBT,
        )
        assert (told.states[k], told.causes[k]) == (alone.state, alone.causes)
        assert told.margins_ft[k] == pytest.approx(alone.margin_ft, abs=1e-3)
        assert (told.distance_nm[k], told.bearing_true_deg[k]) == (alone.distance_nm, alone.bearing_true_deg)
    if kind is ComponentKind.AZIMUTH:
        assert told.causes[0] == (Cause.OVERHEAD_CONE,) and Cause.TERRAIN in told.causes[1]
        assert told.states[3] is ReceptionState.RECEIVED
    assert told.antenna_altitude_ft == pytest.approx(100.0)


def test_an_antenna_of_unknown_altitude_is_told_as_such():
    far_out = destination(MAST, bearing_true_deg=0.0, distance_nm=300.0)  # no ground is known there
    beacon = replace(a_beacon(), position=far_out, elevation_ft=None)
    told = heard_at_places(
        beacon=beacon,
        component=beacon.components[0],
        lat_deg=np.array([far_out.lat_deg + 0.3]),
        lon_deg=np.array([far_out.lon_deg]),
        altitude_ft=np.array([5000.0]),
        ground=RIDGE,
        on=DAY,
        estimated_declination_deg=None,
    )
    assert told.antenna_altitude_ft is None
    assert told.states == (ReceptionState.UNKNOWN,)
