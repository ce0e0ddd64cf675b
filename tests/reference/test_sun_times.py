"""Sunrise, sunset and civil twilight against published almanacs and against another program (tests/reference/data/sun_times.csv)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from server.navigation import Airfield, Position
from server.planning.sun_times import SunTimes, sun_times
from tests.reference.tables import table

ROWS = table("sun_times.csv")
EVENTS = ("civil_dawn", "sunrise", "sunset", "civil_dusk")
TOLERANCE_S = {"published": 120.0, "computed": 20.0}


def sun_over(lat_deg: float, lon_deg: float, moment: datetime) -> SunTimes:
    field = Airfield(id=1, region_id=1, ident="QFLD", name="Field", position=Position(lat_deg=lat_deg, lon_deg=lon_deg))
    return sun_times(field, moment, flight_utc=None)


@pytest.mark.parametrize("hour", [2, 12, 23])
@pytest.mark.parametrize("row", ROWS, ids=[f"{row['place']} {row['date']}" for row in ROWS])
def test_agrees_with_the_almanac_and_with_another_program_whatever_hour_of_the_local_day_is_asked(row, hour):
    zone_h = float(row["zone_h"])
    local = datetime.fromisoformat(row["date"]).replace(tzinfo=UTC)
    sun = sun_over(float(row["lat_deg"]), float(row["lon_deg"]), local + timedelta(hours=hour - zone_h))
    for event in EVENTS:
        if row[event]:
            clock = datetime.fromisoformat(f"{row['date']}T{row[event]}").replace(tzinfo=UTC) - timedelta(hours=zone_h)
            at_utc = getattr(sun, event).at_utc
            assert abs((at_utc - clock).total_seconds()) <= TOLERANCE_S[row["known"]], event


def test_the_table_holds_what_was_published_and_every_season_of_both_halves_of_the_earth():
    assert len([row for row in ROWS if row["known"] == "published"]) == 7
    assert len([row for row in ROWS if row["known"] == "computed"]) == 24
