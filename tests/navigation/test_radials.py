"""Radials by the kind of a station's alignment."""

from __future__ import annotations

import pytest

from server.errors import OutOfRange
from server.navigation import Alignment, AlignmentKind, Position, declination_used, radial_from, true_bearing_of_radial

STATION = Position(lat_deg=43.0, lon_deg=-36.0)
NORTH_OF_IT = Position(lat_deg=44.0, lon_deg=-36.0)


def aligned(kind: AlignmentKind, declination_deg: float | None = None) -> Alignment:
    return Alignment(kind=kind, declination_deg=declination_deg)


def test_a_magnetic_station_uses_its_own_alignment_even_when_a_model_value_is_offered():
    radial = radial_from(STATION, aligned(AlignmentKind.MAGNETIC, -14.0), NORTH_OF_IT, estimated_declination_deg=-10.0)
    assert (radial.value_deg, radial.reference, radial.estimated) == (14.0, "M", False)


def test_a_true_station_reads_true_bearings():
    radial = radial_from(STATION, aligned(AlignmentKind.TRUE), NORTH_OF_IT, estimated_declination_deg=-10.0)
    assert (radial.value_deg, radial.reference, radial.estimated) == (0.0, "T", False)


def test_a_grid_station_counts_from_its_grid_north():
    radial = radial_from(STATION, aligned(AlignmentKind.GRID, 100.0), NORTH_OF_IT, estimated_declination_deg=None)
    assert (radial.value_deg, radial.reference, radial.estimated) == (260.0, "G", False)


def test_an_alignment_of_zero_is_not_an_unknown_one():
    radial = radial_from(STATION, aligned(AlignmentKind.MAGNETIC, 0.0), NORTH_OF_IT, estimated_declination_deg=-5.0)
    assert (radial.value_deg, radial.estimated) == (0.0, False)


@pytest.mark.parametrize("kind", [AlignmentKind.UNKNOWN, AlignmentKind.MAGNETIC])
def test_an_unknown_alignment_is_estimated_and_says_so(kind):
    radial = radial_from(STATION, aligned(kind), NORTH_OF_IT, estimated_declination_deg=-10.0)
    assert (radial.value_deg, radial.reference, radial.estimated) == (10.0, "M", True)


@pytest.mark.parametrize("kind", [AlignmentKind.UNKNOWN, AlignmentKind.MAGNETIC])
def test_an_unknown_alignment_without_an_estimate_is_refused(kind):
    with pytest.raises(OutOfRange, match=r"alignment is not known.*Enter the declination"):
        radial_from(STATION, aligned(kind), NORTH_OF_IT, estimated_declination_deg=None)


def test_the_magnetic_model_never_stands_in_for_a_grid_angle():
    with pytest.raises(OutOfRange, match="alignment is not known"):
        declination_used(aligned(AlignmentKind.GRID), -10.0)


def test_overhead_there_is_no_radial():
    overhead = Position(lat_deg=43.00005, lon_deg=-36.0)
    assert radial_from(STATION, aligned(AlignmentKind.MAGNETIC, -14.0), overhead, estimated_declination_deg=None) is None


def test_the_zero_radial_of_a_station_8_west_points_to_352_true():
    assert true_bearing_of_radial(0.0, aligned(AlignmentKind.MAGNETIC, -8.0), estimated_declination_deg=None) == 352.0
