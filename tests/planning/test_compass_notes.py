"""Where the compass serves badly the log says so, and no leg hides that its magnetic track turns."""

from __future__ import annotations

import pytest

from server.navigation import Position
from server.planning import plan
from server.planning.log_legs import NoteLevel
from tests.planning.planning_builders import materials_for, words


def direct(start: Position, end: Position):
    return plan(materials_for(start=start, end=end)).log


def notes_of(log, code):
    return [note for note in log.legs[0].notes if note.code == code]


def test_a_leg_whose_magnetic_track_turns_tells_both_ends():
    # 387 NM towards the north-east over the Canadian Arctic: by the model 017 at the start and 049 at the end would be one heading of 023
    log = direct(Position(lat_deg=69.1, lon_deg=-105.1), Position(lat_deg=74.7, lon_deg=-94.97))
    (note,) = notes_of(log, "track-turns")
    assert note.level is NoteLevel.WARNING and "one heading does not lead along it" in note.message


def test_a_leg_of_the_middle_latitudes_does_not_turn():
    log = direct(Position(lat_deg=43.0, lon_deg=-36.5), Position(lat_deg=44.0, lon_deg=-36.0))
    assert not notes_of(log, "track-turns") and not notes_of(log, "compass-weak")


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "code", "level"),
    [
        (74.7, -94.97, "compass-weak", NoteLevel.WARNING),  # Resolute: about 4,800 nT by WMM2025
        (85.8, 139.3, "compass-unreliable", NoteLevel.STOP),  # beside the north magnetic dip pole of 2025 (NOAA: 85.8 N, 139.3 E)
    ],
)
def test_a_weak_horizontal_field_reaches_the_log(lat_deg, lon_deg, code, level):
    log = direct(Position(lat_deg=lat_deg, lon_deg=lon_deg), Position(lat_deg=lat_deg - 0.5, lon_deg=lon_deg))
    (note,) = notes_of(log, code)
    assert note.level is level and "true north" in note.message
    assert words(log, code)
