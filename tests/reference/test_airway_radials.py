"""Every US Victor airway segment that starts at a VOR: our radial against the published outbound course."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from server.navigation import Alignment, AlignmentKind, Position, difference_deg, radial_from, variations_deg

VOR_KINDS = ("VOR", "VOR-DME", "VORTAC")


@pytest.fixture(scope="module")
def segments(open_data):
    """FAA coded procedures, volume 2604 (16 April 2026): segments, and the alignment of the VOR each starts at."""
    with (open_data / "airways_us" / "navaids_cifp.csv").open(encoding="utf-8", newline="") as lines:
        stations = {
            (row["ident"], row["icao"]): float(row["station_declination_deg"])
            for row in csv.DictReader(lines)
            if row["kind"] in VOR_KINDS and row["station_declination_deg"]
        }
    with (open_data / "airways_us" / "airway_segments.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["airway"][0] == "V" and row["area"] == "USA" and row["from_type"] == "VHF"]
    assert len(rows) == 1918
    return [(row, stations[row["from_ident"], row["from_icao"]]) for row in rows if (row["from_ident"], row["from_icao"]) in stations]


def ends(row) -> tuple[Position, Position]:
    return tuple(Position(lat_deg=float(row[f"{end}_lat"]), lon_deg=float(row[f"{end}_lon"])) for end in ("from", "to"))


def test_agrees_with_the_outbound_courses_of_us_victor_airways(segments):
    errors_deg = []
    for row, declination_deg in segments:
        start, end = ends(row)
        alignment = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=declination_deg)
        radial = radial_from(start, alignment, end, estimated_declination_deg=None)
        errors_deg.append(abs(difference_deg(radial.value_deg, float(row["course_out_mag"]))))
    assert len(errors_deg) > 1900
    assert np.median(errors_deg) <= 0.1
    assert np.mean(np.array(errors_deg) <= 0.3) >= 0.99


def test_the_magnetic_model_in_place_of_the_alignment_would_be_degrees_off(segments):
    """The mistake this project must not make: with WMM2025 variation the median error is 4.2 deg (data set's own measurement)."""
    starts = [ends(row)[0] for row, _ in segments]
    variation_deg = variations_deg(
        [start.lat_deg for start in starts], [start.lon_deg for start in starts], decimal_year=2026.3, altitude_m=0.0
    )
    errors_deg = np.abs([declination_deg for _, declination_deg in segments] - variation_deg)
    assert np.median(errors_deg) == pytest.approx(4.2, abs=0.5)
