"""The wind triangle against handbook examples, examination items and a grid with every edge case."""

from __future__ import annotations

import numpy as np
import pytest

from server.errors import NoHeadingHoldsTrack
from server.navigation import difference_deg, true_airspeed_kt, wind_correction, wind_from_heading
from tests.reference.tables import table

GRID = table("wind_triangle_grid.csv")


def solve(track_deg, airspeed_kt, wind_from_deg, wind_kt):
    return wind_correction(track_true_deg=track_deg, true_airspeed_kt=airspeed_kt, wind_from_true_deg=wind_from_deg, wind_kt=wind_kt)


def flyable(row) -> bool:
    return row["groundspeed_kt"] != "" and float(row["groundspeed_kt"]) > 0.0


def given(row) -> tuple[float, float, float, float]:
    return tuple(float(row[name]) for name in ("track_true_deg", "true_airspeed_kt", "wind_from_true_deg", "wind_kt"))


@pytest.mark.parametrize("row", [row for row in GRID if flyable(row)], ids=lambda row: "/".join(list(row.values())[:4]))
def test_agrees_with_the_plane_triangle(row):
    answer = solve(*given(row))
    assert answer.wind_correction_deg == pytest.approx(float(row["wind_correction_deg"]), abs=6e-4)
    assert abs(difference_deg(answer.heading_true_deg, float(row["heading_true_deg"]))) <= 6e-4
    assert 0.0 <= answer.heading_true_deg < 360.0
    for name in ("groundspeed_kt", "headwind_kt", "crosswind_kt"):
        assert getattr(answer, name) == pytest.approx(float(row[name]), abs=6e-4), name


@pytest.mark.parametrize("row", [row for row in GRID if not flyable(row)], ids=lambda row: "/".join(list(row.values())[:4]))
def test_a_triangle_without_progress_is_refused(row):
    words = "crosswind.*exceeds" if row["groundspeed_kt"] == "" else "leaves no groundspeed"
    with pytest.raises(NoHeadingHoldsTrack, match=words):
        solve(*given(row))


def test_arrays_hold_nan_exactly_where_a_scalar_is_refused():
    answer = solve(*np.array([given(row) for row in GRID]).T)
    assert list(np.isfinite(answer.groundspeed_kt)) == [flyable(row) for row in GRID]
    assert list(np.isnan(answer.heading_true_deg)) == [not flyable(row) for row in GRID]


def test_agrees_with_phak_figure_15_21():
    """FAA-H-8083-25A, fig. 15-21: course 090, wind 045/40, TAS 120: 14 left, heading 076, groundspeed 88."""
    answer = solve(90, 120, 45, 40)
    assert (round(answer.wind_correction_deg), round(answer.heading_true_deg), round(answer.groundspeed_kt)) == (-14, 76, 88)
    assert answer.groundspeed_kt == pytest.approx(88.335, abs=1e-3)


def test_agrees_with_phak_planning_log():
    """FAA-H-8083-25A, chapter 15, Chickasha to Guthrie: course 031, wind 360/10, TAS 115: 3 left, 028, 106 kt, 30 min for 53 NM."""
    answer = solve(31, 115, 360, 10)
    assert (round(answer.wind_correction_deg), round(answer.heading_true_deg), round(answer.groundspeed_kt)) == (-3, 28, 106)
    assert 53 / answer.groundspeed_kt * 60 == pytest.approx(30, abs=0.5)
    magnetic_deg = answer.heading_true_deg - 7  # printed variation 7 E
    assert (round(magnetic_deg), round(magnetic_deg + 2)) == (21, 23)  # deviation printed as +2, added


# Climb and descent items of a public question bank for the US commercial pilot examination.
# Printed answers: minutes, compass heading, NM, US gal.
CLIMBS = [
    # feet, ft/min, TAS, course, wind from, kt, variation east, deviation to add, gal/h; minutes, heading, NM, gal
    (8200, 600, 130, 305, 260, 25, 4, 3, 13, 14, 296, 25, 3.0),
    (7600, 500, 130, 220, 300, 30, -3, -2, 14, 15, 234, 31, 3.5),
    (8000, 500, 140, 135, 70, 20, 5, -3, 12, 16, 120, 35, 3.2),
    (8500, 500, 135, 215, 290, 20, -3, -2, 13, 17, 224, 36, 3.7),
    (8000, 500, 160, 145, 80, 15, 5, -3, 14, 16, 132, 41, 3.7),
    (5000, 500, 110, 335, 60, 15, -3, 2, 8.5, 10, 348, 18, 1.4),
    (5400, 300, 120, 165, 240, 20, 4, -2, 9.6, 18, 168, 34, 2.9),
    (7800, 600, 135, 263, 330, 30, 7, 3, 11.5, 13, 271, 26, 2.5),
]


@pytest.mark.parametrize("item", CLIMBS, ids=lambda item: f"course-{item[3]}")
def test_agrees_with_commercial_examination_climbs_and_descents(item):
    feet, rate, airspeed, course, wind_from, wind, variation, deviation, burn, minutes, heading, distance, fuel = item
    answer = solve(course, airspeed, wind_from, wind)
    time_min = feet / rate
    assert time_min == pytest.approx(minutes, abs=0.5)
    assert answer.heading_true_deg - variation + deviation == pytest.approx(heading, abs=1.0)
    assert answer.groundspeed_kt * time_min / 60 == pytest.approx(distance, abs=0.5)
    assert burn * time_min / 60 == pytest.approx(fuel, abs=0.06)


# Track, heading, TAS, groundspeed; printed wind; exact wind. Same bank, and two class sheets (see their lines).
UNKNOWN_WINDS = [
    (105, 85, 95, 87, (20, 32), (19.0, 32.57)),
    (345, 355, 85, 95, (113, 19), (112.4, 18.58)),
    (130, 135, 135, 140, (246, 13), (245.1, 12.99)),
    (250, 230, 160, 175, (135, 59), (135.8, 60.02)),
    (94, 104, 165, 146, (154, 34), (154.1, 33.06)),  # US training sheet of the 1940s, in mph
    (175, 160, 180, 144, (118, 55), (117.7, 55.34)),  # class slides, in mph
]


@pytest.mark.parametrize(("track", "heading", "airspeed", "groundspeed", "printed", "exact"), UNKNOWN_WINDS)
def test_agrees_with_examination_items_that_ask_for_the_wind(track, heading, airspeed, groundspeed, printed, exact):
    wind = wind_from_heading(heading_true_deg=heading, true_airspeed_kt=airspeed, track_true_deg=track, groundspeed_kt=groundspeed)
    assert (wind.from_true_deg, wind.speed_kt) == pytest.approx(exact, abs=0.051)
    assert (wind.from_true_deg, wind.speed_kt) == pytest.approx(printed, abs=1.5)  # slide rule


# Public European and US items: track, TAS, wind; printed heading and groundspeed (None where not asked); exact.
FOUND_HEADINGS = [
    (75, 80, 175, 20, None, 81, (89.25, 81.01)),
    (255, 100, 200, 10, 250, None, (250.30, 93.93)),
    (180, 180, 100, 18, 174, 176, (174.35, 176.00)),
    (110, 200, 15, 40, 99, 199, (98.51, 199.48)),
]


@pytest.mark.parametrize(("track", "airspeed", "wind_from", "wind", "heading", "groundspeed", "exact"), FOUND_HEADINGS)
def test_agrees_with_examination_items_that_ask_for_the_heading(track, airspeed, wind_from, wind, heading, groundspeed, exact):
    answer = solve(track, airspeed, wind_from, wind)
    assert (answer.heading_true_deg, answer.groundspeed_kt) == pytest.approx(exact, abs=0.0051)
    assert heading is None or answer.heading_true_deg == pytest.approx(heading, abs=1.0)
    assert groundspeed is None or answer.groundspeed_kt == pytest.approx(groundspeed, abs=1.0)


def test_agrees_with_an_item_that_mixes_magnetic_course_and_true_wind():
    """European item: course 045 M, variation 15 E, wind 190 T / 30, CAS 120 at FL 55 in the standard atmosphere: 055 M, 147 kt."""
    airspeed_kt = true_airspeed_kt(120, 5500, 15 - 1.98 * 5.5)
    answer = solve(45 + 15, airspeed_kt, 190, 30)
    assert airspeed_kt == pytest.approx(130.12, abs=0.05)
    assert answer.heading_true_deg - 15 == pytest.approx(55, abs=1)
    assert answer.groundspeed_kt == pytest.approx(147, abs=1)
