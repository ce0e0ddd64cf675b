"""What spoils an NDB's bearing: night, mountains, a coast at a small angle. The rules' sources stand in server/planning/ndb_notes.py."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import shapely

from server.navigation import Position, destination, inverse
from server.planning.log import NoteLevel
from server.planning.ndb_notes import sun_is_down
from server.planning.plan import plan
from server.units import metres_from_feet
from tests.planning.planning_builders import FROM, MIDDLE, an_ndb, codes, level, materials_for, over, ridge, words

NDB = an_ndb("NNN", MIDDLE)  # 43.6 NM from the airfields to its west and east
NIGHT, NOON = datetime(2026, 8, 1, 23, 30, tzinfo=UTC), datetime(2026, 8, 1, 14, 30, tzinfo=UTC)
NDB_CODES = {"ndb-night", "ndb-mountains", "ndb-coast"}


def log_of(**changes):
    return plan(materials_for(over(NDB), beacons=(NDB,), **({"departure_utc": NOON} | changes))).log


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "sunset_utc"),
    [
        (51.477, 0.0, datetime(2026, 6, 21, 20, 21, tzinfo=UTC)),  # Greenwich, printed almanacs (from memory)
        # Equator, 20 March: noon at 12:07.5 (equation of time), half a day of 6 h and 0.833 / 15 h = 3.3 min
        (0.0, 0.0, datetime(2026, 3, 20, 18, 10, 48, tzinfo=UTC)),
    ],
)
def test_the_sun_sets_when_almanacs_say(lat_deg, lon_deg, sunset_utc):
    there, two_minutes = Position(lat_deg=lat_deg, lon_deg=lon_deg), timedelta(minutes=2)
    assert not sun_is_down(there, sunset_utc - two_minutes)
    assert sun_is_down(there, sunset_utc + two_minutes)


def test_by_day_over_level_land_an_ndb_has_only_its_flag_to_be_told():
    assert not codes(log_of()) & NDB_CODES


def test_far_from_an_ndb_by_night_the_needle_is_not_trusted():
    notes = [note for leg in log_of(departure_utc=NIGHT).legs for note in leg.notes if note.code == "ndb-night"]
    assert [(note.leg_number, note.level) for note in notes] == [(1, NoteLevel.WARNING), (2, NoteLevel.WARNING)]
    assert notes[0].message == (
        "NNN by night: at 0.0 NM of leg 1 the sun is down and NNN is 44 NM away. "
        "Beyond 30 NM the needle may wander by night: check it against another aid."
    )


def test_near_an_ndb_by_night_nothing_is_said():
    ends = {
        "start": destination(MIDDLE, bearing_true_deg=270.0, distance_nm=29.0),
        "end": destination(MIDDLE, bearing_true_deg=90.0, distance_nm=29.0),
    }
    assert "ndb-night" not in codes(log_of(departure_utc=NIGHT, **ends))
    assert "ndb-night" in codes(log_of(departure_utc=NIGHT, **ends | {"end": destination(MIDDLE, bearing_true_deg=90.0, distance_nm=33.0)}))


def test_without_a_time_night_is_advice():
    notes = [note for leg in log_of(departure_utc=None).legs for note in leg.notes if note.code == "ndb-night"]
    assert {note.level for note in notes} == {NoteLevel.ADVICE}
    assert "its time is not known: by night do not trust an NDB there" in notes[0].message


@pytest.mark.parametrize(("ridge_m", "warned"), [(900.0, False), (1500.0, True)])  # 3,000 ft are 914.4 m
def test_mountains_on_the_way_are_told(ridge_m, warned):
    log = log_of(ground=ridge(ridge_m, lon_deg=-37.0), altitude_ft=9500.0)
    assert ("ndb-mountains" in codes(log)) is warned
    if warned:
        text = words(log, "ndb-mountains")
        assert text.startswith("Mountains between NNN and leg 1: the ground changes by 4,") and "check it against another aid" in text


def test_a_slow_rise_is_no_mountain():
    """2,610 ft in every 10 NM up to both sides of the station: far more than 3,000 ft in all, less within 10 NM."""
    valley = level(0.0)
    lon_deg = valley.west_lon_deg + valley.step_lon_deg * np.arange(valley.posts.shape[1])
    away_nm = np.abs(lon_deg - MIDDLE.lon_deg) * 60.0 * np.cos(np.radians(MIDDLE.lat_deg))  # as on a sphere
    valley.posts[:] = metres_from_feet(261.0 * away_nm)
    assert "ndb-mountains" not in codes(log_of(ground=valley, altitude_ft=20_000.0, aircraft_id=None))
    valley.posts[:] = metres_from_feet(320.0 * away_nm)
    assert "ndb-mountains" in codes(log_of(ground=valley, altitude_ft=20_000.0, aircraft_id=None))


def sea_south_of_a_coast(angle_deg: float, away_nm: float = 20.0) -> dict[str, str]:
    """A sea whose northern coast crosses the way west of the NDB at this angle, so far from it."""
    crossing = destination(MIDDLE, bearing_true_deg=inverse(MIDDLE, FROM).initial_true_deg, distance_nm=away_nm)
    onward_deg = inverse(crossing, MIDDLE).initial_true_deg + 180.0
    ends = [destination(crossing, bearing_true_deg=onward_deg + turn + angle_deg, distance_nm=8.0) for turn in (0.0, 180.0)]
    corners = [(end.lon_deg, end.lat_deg) for end in ends]
    corners += [(lon_deg, lat_deg - 0.5) for lon_deg, lat_deg in reversed(corners)]
    return {"sea_geojson": shapely.to_geojson(shapely.Polygon(corners))}


def test_a_coast_crossed_at_a_small_angle_is_told_with_where():
    log = log_of(region=sea_south_of_a_coast(20.0), ground=level(10.0))
    text = words(log, "ndb-coast")
    assert text.startswith("The bearing to NNN crosses the coast at 20°, 20.0 NM from NNN: at less than 30° the coast bends it.")
    assert "On leg 1 beyond it" in text


@pytest.mark.parametrize("angle_deg", [-29.0, 29.0])
def test_just_below_30_degrees_warns_on_either_hand(angle_deg):
    assert "ndb-coast" in codes(log_of(region=sea_south_of_a_coast(angle_deg), ground=level(10.0)))


@pytest.mark.parametrize("angle_deg", [-31.0, 31.0, 60.0, 90.0])
def test_a_coast_crossed_squarely_is_no_trouble(angle_deg):
    assert "ndb-coast" not in codes(log_of(region=sea_south_of_a_coast(angle_deg), ground=level(10.0)))


def test_a_coast_beyond_the_leg_is_no_trouble():
    assert "ndb-coast" not in codes(log_of(region=sea_south_of_a_coast(20.0, away_nm=50.0), ground=level(10.0), start=FROM))


def test_where_an_outline_ends_in_open_water_there_is_no_coast():
    assert "ndb-coast" not in codes(log_of(region=sea_south_of_a_coast(20.0), ground=level(0.0)))


def test_an_outline_may_be_kept_as_features_whose_polygons_overlap():
    polygon = sea_south_of_a_coast(20.0)["sea_geojson"]
    feature = f'{{"type": "Feature", "properties": {{}}, "geometry": {polygon}}}'
    collection = f'{{"type": "FeatureCollection", "features": [{feature}, {feature}]}}'
    assert "crosses the coast at 20°, 20.0 NM" in words(log_of(region={"sea_geojson": collection}, ground=level(10.0)), "ndb-coast")
