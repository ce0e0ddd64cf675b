"""The working of each number: every sum shown holds, and it ends in the number that the log prints."""

from __future__ import annotations

import math
import operator
import re

import pytest

from server.navigation import CruiseRow, NorthReference, Position, WindLayer
from server.planning import plan
from server.planning.log import NavigationLog
from server.sheets.log_sheet import LegSheet, log_sheet
from server.sheets.working import Derivation, working_of_leg
from tests.planning.planning_builders import a_tourer, a_vor, card_of, materials_for, over

NUMBER = r"−?\d+(?:\.\d+)?"
TERM = rf"(?:(?:sin|cos) )?{NUMBER}°?"
SUM = re.compile(rf"({TERM}(?: [+−×/] {TERM})+) = ({NUMBER})")
OPERATORS = {"+": operator.add, "−": operator.sub, "×": operator.mul, "/": operator.truediv}


def number_of(text: str) -> float:
    return float(text.replace("−", "-"))


def between(term: str) -> tuple[float, float]:
    """The least and the greatest that a printed term may stand for, given how it is rounded."""
    digits = re.search(NUMBER, term).group()
    half = 0.5 * 10.0 ** -len(digits.partition(".")[2])
    low, high = number_of(digits) - half, number_of(digits) + half
    if "sin" in term or "cos" in term:
        function = math.sin if "sin" in term else math.cos
        values = [function(math.radians(low + (high - low) * step / 10.0)) for step in range(11)]
        low, high = min(values), max(values)
    return low, high


def worked_out(expression: str) -> tuple[float, float]:
    """Work a printed sum out from left to right, as intervals. Only × and / are mixed, or only + and −."""
    pieces = re.split(r" ([+−×/]) ", expression)
    low, high = between(pieces[0])
    for sign, term in zip(pieces[1::2], pieces[2::2], strict=True):
        ends = [OPERATORS[sign](one, other) for one in (low, high) for other in between(term)]
        low, high = min(ends), max(ends)
    return low, high


def sums_of(derivation: Derivation) -> list[tuple[str, str]]:
    return [sum_ for step in derivation.steps for sum_ in SUM.findall(step.replace(",", ""))]


WINDS = (
    WindLayer(altitude_ft=2000.0, from_deg=231.0, speed_kt=9.0, reference=NorthReference.MAGNETIC),
    WindLayer(altitude_ft=9000.0, from_deg=265.0, speed_kt=22.0, reference=NorthReference.TRUE),
)


def flown(variation_deg: float, **changes) -> NavigationLog:
    beacons = a_vor("AAA", Position(lat_deg=43.1, lon_deg=-36.4), number=1), a_vor("BBB", Position(lat_deg=43.35, lon_deg=-35.7), number=2)
    aircraft = a_tourer(compass_card=card_of(-2.0))
    fields = {"beacons": beacons, "aircraft": aircraft, "winds": WINDS, "variation_deg": variation_deg} | changes
    return plan(materials_for(*(over(beacon) for beacon in beacons), **fields)).log


FLIGHTS = {"west": -11.4, "east": 7.3, "far west": -32.5}


@pytest.fixture(scope="module", params=FLIGHTS)
def log(request) -> NavigationLog:
    return flown(FLIGHTS[request.param])


def test_every_sum_shown_holds_as_printed(log):
    shown = 0
    for leg in log.legs:
        for derivation in working_of_leg(log, leg):
            for expression, result in sums_of(derivation):
                low, high = worked_out(expression)
                least, most = between(result)
                assert low <= most + 1e-9 and least <= high + 1e-9, (derivation.key, expression, result)
                shown += 1
    assert shown > 30


PRINTED = {
    "distance": "distance",
    "track-true": "track_true",
    "variation": "variation",
    "track-magnetic": "track_magnetic",
    "true-airspeed": "true_airspeed",
    "wind": "wind",
    "wind-magnetic": "wind_magnetic",
    "wind-correction": "wind_correction",
    "heading-true": "heading_true",
    "heading-magnetic": "heading_magnetic",
    "heading-compass": "heading_compass",
    "groundspeed": "groundspeed",
    "time": "time",
    "arrival": "arrival",
    "fuel": "fuel",
    "fuel-remaining": "fuel_remaining",
    "highest-ground": "highest_ground",
}


def test_each_result_is_the_number_the_log_prints(log):
    for leg, printed in zip(log.legs, log_sheet(log).legs, strict=True):
        derivations = {each.key: each for each in working_of_leg(log, leg)}
        assert set(PRINTED) <= set(derivations)
        for key, name in PRINTED.items():
            assert derivations[key].result == getattr(printed, name), key
        assert courses_of(derivations) == [row.set_course for row in printed.tune]


def courses_of(derivations: dict[str, Derivation]) -> list[str]:
    return [derivation.result for key, derivation in derivations.items() if key.startswith("course-")]


def test_the_last_sum_ends_in_the_result(log):
    """Rounded once more, the last figure of a sum is the one printed."""
    for leg in log.legs:
        for derivation in working_of_leg(log, leg):
            if derivation.key in ("track-magnetic", "heading-true", "heading-magnetic", "heading-compass"):
                last = re.findall(r"\d+\.\d", derivation.steps[-1])[-1]
                assert abs((float(last) - float(derivation.result) + 180.0) % 360.0 - 180.0) <= 0.55


def test_keys_are_unique_within_a_leg(log):
    for leg in log.legs:
        keys = [each.key for each in working_of_leg(log, leg)]
        assert len(keys) == len(set(keys))


def test_what_is_not_known_is_not_derived():
    log = flown(-11.4, winds=(), aircraft=a_tourer())
    keys = {each.key for each in working_of_leg(log, log.legs[0])}
    assert "track-magnetic" in keys and not keys & {"wind", "wind-correction", "heading-magnetic", "groundspeed", "time", "fuel"}
    assert isinstance(log_sheet(log).legs[0], LegSheet)


def test_a_table_is_worked_out_line_by_line():
    """At 6,500 ft and standard: between 116 kt at 6,000 ft and 120 kt at 8,000 ft a quarter of the way is 117 kt."""
    rows = tuple(
        CruiseRow(power="65 %", pressure_altitude_ft=feet, isa_deviation_c=0.0, tas_kt=tas_kt, fuel_l_per_h=30.0)
        for feet, tas_kt in ((6000.0, 116.0), (8000.0, 120.0))
    )
    log = flown(-11.4, aircraft=a_tourer(cruise_table=rows), isa_deviation_c=0.0, qnh_hpa=1013.25)
    derivation = next(each for each in working_of_leg(log, log.legs[1]) if each.key == "true-airspeed")
    assert derivation.result == "117"
    assert "Between pressure altitude 6000 and 8000 ft, at 6500: 116.0 kt and 120.0 kt, 0.25 of the way, give 117.0 kt." in derivation.steps


def test_the_fuel_plan_is_worked_out_and_its_sums_hold():
    log = flown(-11.4, extra_fuel_l=5.0)
    sheet = log_sheet(log)
    titles = [each.title.split(",")[0] for each in sheet.fuel_working]
    assert {"Trip", "Needed in all", "Left above all that is needed", "Left on landing", "Endurance"} <= set(titles)
    rows = dict(sheet.fuel_rows)
    for derivation in sheet.fuel_working:
        assert derivation.result == rows[derivation.title]
        for expression, result in sums_of(derivation):
            low, high = worked_out(expression)
            least, most = between(result)
            assert low <= most + 1e-9 and least <= high + 1e-9, (derivation.title, expression, result)
