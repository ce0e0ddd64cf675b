"""Radials through the station's own alignment, against radials that authorities print."""

from __future__ import annotations

import pytest

from server.navigation import (
    Alignment,
    AlignmentKind,
    Position,
    difference_deg,
    distance_nm,
    radial_from,
    reciprocal_deg,
    true_bearing_of_radial,
    two_radial_fix,
)


def aligned(declination_deg: float) -> Alignment:
    return Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=declination_deg)


def radial_deg(station: Position, declination_deg: float, point: Position) -> float:
    found = radial_from(station, aligned(declination_deg), point, estimated_declination_deg=None)
    assert found is not None
    assert (found.reference, found.estimated) == ("M", False)
    return found.value_deg


# Positions and declinations of the stations: OurAirports navaids, August 2026 (public domain); declinations also FAA NASR for LOA and FZT.
SAV = Position(lat_deg=32.146301, lon_deg=-81.199097)
ALD = Position(lat_deg=33.012501, lon_deg=-81.292198)
MQO = Position(lat_deg=35.2523, lon_deg=-120.7600)
PRB = Position(lat_deg=35.6724, lon_deg=-120.6270)
LOA = Position(lat_deg=31.1240, lon_deg=-95.9680)
FZT = Position(lat_deg=32.0746, lon_deg=-95.5308)
MVC = Position(lat_deg=31.4604, lon_deg=-87.3528)
EDN = Position(lat_deg=31.2960, lon_deg=-85.9033)


def test_agrees_with_faa_test_item_of_two_radials_over_springfield():
    """FAA private bank: SAV 340 and ALD 184 cross over Springfield, Georgia (32.3724 N 81.3115 W, town centre)."""
    fix = two_radial_fix(
        SAV,
        bearing_a_true_deg=true_bearing_of_radial(340, aligned(-6), estimated_declination_deg=None),
        station_b=ALD,
        bearing_b_true_deg=true_bearing_of_radial(184, aligned(-1), estimated_declination_deg=None),
    )
    assert distance_nm(fix.position, Position(lat_deg=32.3724, lon_deg=-81.3115)) < 1.5
    assert (fix.position.lat_deg, fix.position.lon_deg) == pytest.approx((32.37653, -81.33146), abs=1e-4)
    assert fix.distance_a_nm == pytest.approx(15.34, abs=0.01)


def test_agrees_with_airway_v113_between_mqo_and_prb():
    """Printed 358 out, 179 from PRB, 26 NM; FAA coded procedures 358.4 and inbound course 358.5."""
    assert radial_deg(MQO, 16, PRB) == pytest.approx(358, abs=0.7)
    assert radial_deg(MQO, 16, PRB) == pytest.approx(358.4, abs=0.15)
    assert radial_deg(PRB, 16, MQO) == pytest.approx(179, abs=0.7)
    assert distance_nm(MQO, PRB) == pytest.approx(26.0, abs=0.1)


def test_agrees_with_airway_v583_between_loa_and_fzt():
    """Printed 013 out; FAA coded procedures 13.4 out, inbound course 15.6: the two ends are not reciprocal."""
    assert radial_deg(LOA, 8, FZT) == pytest.approx(13.4, abs=0.15)
    inbound_deg = reciprocal_deg(radial_deg(FZT, 6, LOA))
    assert inbound_deg == pytest.approx(15.6, abs=0.15)
    assert distance_nm(LOA, FZT) == pytest.approx(61.2, abs=0.1)


def test_the_leg_mvc_to_edn_goes_out_on_093_and_in_on_101():
    """Computed beforehand from the open table with another library: out 093.2, radial at EDN 280.9, inbound course 100.9, 75 NM."""
    assert radial_deg(MVC, 4, EDN) == pytest.approx(93.2, abs=0.051)
    assert radial_deg(EDN, -3, MVC) == pytest.approx(280.9, abs=0.051)
    assert round(radial_deg(MVC, 4, EDN)) == 93
    assert round(reciprocal_deg(radial_deg(EDN, -3, MVC))) == 101
    assert distance_nm(MVC, EDN) == pytest.approx(75, abs=0.5)


def test_due_east_of_aml_is_the_098_radial_whatever_the_model_says_today():
    """FAA NASR, October 2025: AML 38.93459247 N 77.46670175 W, variation 8 W of 1980; the magnetic model gives 10.5 W there now."""
    aml = Position(lat_deg=38.93459247, lon_deg=-77.46670175)
    east = Position(lat_deg=38.93459247, lon_deg=-77.46670175 + 0.01)
    assert abs(difference_deg(radial_deg(aml, -8, east), 98.0)) < 0.01
