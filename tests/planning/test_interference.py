"""Stations on one channel: free-space ratios worked out by hand, who counts, and the words."""

from __future__ import annotations

import math

import pytest

from server.navigation import destination
from server.planning.interference import shared_channels
from server.planning.log import NoteLevel
from server.planning.plan import plan
from server.radio import BeaconKind, ComponentKind, ComponentStatus
from tests.planning.planning_builders import FROM, a_part, a_vor, codes, level, materials_for, over, ridge

ALTITUDE_FT = 10_000.0
HIGH = {"antenna_height_ft": 1000.0}  # far above the ground, so that free space is all there is
AZIMUTH, DISTANCE = ComponentKind.AZIMUTH, ComponentKind.DISTANCE


def east(distance_nm: float):
    return destination(FROM, bearing_true_deg=90.0, distance_nm=distance_nm)


def meet(leg_nm: float, unwanted_nm: float, *, wanted=None, unwanted=None, **flight):
    """Fly out from WWW to the east, towards UUU that stands ``unwanted_nm`` beyond the end of the leg."""
    ours = a_vor("WWW", FROM, **(HIGH | (wanted or {})))
    theirs = a_vor("UUU", east(leg_nm + unwanted_nm), **(HIGH | (unwanted or {})))
    start = destination(FROM, bearing_true_deg=270.0, distance_nm=1.0)
    materials = materials_for(
        over(ours),
        beacons=(ours, theirs),
        start=start,
        end=east(leg_nm),
        **({"altitude_ft": ALTITUDE_FT, "aircraft_id": None, "ground": level(west=-38.5, east=-33.0)} | flight),
    )
    log = plan(materials).log
    return log, shared_channels(log.legs[1], log.profile, materials)


def said(log, code: str) -> str:
    """The words of the only note of this code on the leg that flies out."""
    (note,) = [note for note in log.legs[1].notes if note.code == code]
    return note.message


@pytest.mark.parametrize(
    ("leg_nm", "unwanted_nm", "ratio_db"),
    [
        (20.0, 100.2, 14.0),  # ICAO Annex 10 Vol V att. A: 14 dB are a distance ratio of 5.01
        (10.0, 100.0, 20.0),  # 20 dB are a distance ratio of 10
        (50.0, 50.0, 0.0),  # equal power, half way
        (60.0, 30.0, -6.02),  # 20 log 2
    ],
)
def test_equal_stations_differ_by_the_ratio_of_their_distances(leg_nm, unwanted_nm, ratio_db):
    _, (shared,) = meet(leg_nm, unwanted_nm)
    # the two slant distances by Pythagoras, the antennas 1,000 ft up: they differ from the ground distances by at most 0.15 dB
    up_nm = (ALTITUDE_FT - 1000.0) / 6076.115
    by_hand_db = 20.0 * math.log10(math.hypot(unwanted_nm, up_nm) / math.hypot(leg_nm, up_nm))
    assert shared.ratio_db == pytest.approx(by_hand_db, abs=0.02)
    assert shared.ratio_db == pytest.approx(ratio_db, abs=0.15)
    assert shared.worst_nm == pytest.approx(leg_nm, abs=1e-6)
    assert shared.unwanted_away_nm == pytest.approx(unwanted_nm, abs=0.01)


@pytest.mark.parametrize("stronger_db", [-10.0, 3.0, 10.0])
def test_power_counts_decibel_for_decibel(stronger_db):
    def of(power_w: float):
        return {"components": (a_part(AZIMUTH, power_w=power_w),)}

    _, (equal,) = meet(30.0, 60.0, wanted=of(100.0), unwanted=of(100.0))
    _, (other,) = meet(30.0, 60.0, wanted=of(100.0 * 10.0 ** (stronger_db / 10.0)), unwanted=of(100.0))
    assert other.ratio_db - equal.ratio_db == pytest.approx(stronger_db, abs=1e-9)
    assert not equal.power_assumed


def test_less_than_20_db_is_a_warning_that_says_who_where_and_how_much():
    log, _ = meet(20.0, 100.2)
    assert said(log, "same-channel") == (
        "UUU is on 113.00 too, and is in sight from 0.0 to 20.0 NM of leg 2: WWW is predicted only 13 dB stronger at 20.0 NM, "
        "100 NM from UUU; 20 dB are asked for. Listen to the ident of WWW."
    )
    assert [note.level for note in log.legs[1].notes if note.code == "same-channel"] == [NoteLevel.WARNING]


def test_a_stronger_stranger_is_called_stronger():
    log, _ = meet(60.0, 31.0)  # 20 log (60 / 31) = 5.7
    assert "it is predicted 6 dB stronger at 60.0 NM, 31 NM from UUU; 20 dB are asked for" in said(log, "same-channel")


def test_20_db_and_more_all_along_is_advice():
    log, _ = meet(5.0, 100.0)  # 26 dB on the ground, 25.7 slant
    assert "same-channel" not in codes(log)  # on no leg
    assert "WWW is predicted at least 25 dB stronger, worst at 5.0 NM" in said(log, "same-channel-weak")
    assert "Listen to the ident of WWW." in said(log, "same-channel-weak")
    assert [note.level for note in log.legs[1].notes if note.code == "same-channel-weak"] == [NoteLevel.ADVICE]


def test_a_power_that_is_not_published_is_told_as_assumed():
    unstated = {"components": (a_part(AZIMUTH, power_w=None),)}
    log, _ = meet(20.0, 100.0, wanted=unstated, unwanted=unstated)
    assert "(power assumed by class)" in said(log, "same-channel")


def test_a_station_behind_a_mountain_is_no_trouble():
    log, shared = meet(20.0, 100.0, ground=ridge(4000.0, lon_deg=-36.0))
    assert shared == () and not codes(log) & {"same-channel", "same-channel-weak"}


def test_unknown_ground_counts_as_open_and_says_so():
    _, (shared,) = meet(20.0, 100.0, ground=level(west=-38.5, east=-36.0))
    assert shared.ground_unknown
    log, _ = meet(20.0, 100.0, ground=level(west=-38.5, east=-36.0))
    assert "UUU is on 113.00 too, and may be in sight" in said(log, "same-channel")
    assert "(unknown ground counted as open)" in said(log, "same-channel")


def test_a_station_of_unknown_height_counts_as_seen_and_says_so():
    _, (shared,) = meet(20.0, 100.2, ground=level(west=-38.5, east=-36.0), unwanted={"elevation_ft": None})
    assert shared.ground_unknown and shared.ratio_db == pytest.approx(14.0, abs=0.15)


@pytest.mark.parametrize(
    "unwanted",
    [
        {"frequency_khz": 113_050},
        {"components": (a_part(AZIMUTH, status=ComponentStatus.WITHDRAWN),)},
        {"kind": BeaconKind.TACAN, "components": (a_part(AZIMUTH), a_part(DISTANCE))},  # sends on its channel, not on 113.00
        {"kind": BeaconKind.NDB, "frequency_khz": 373, "components": (a_part(ComponentKind.BEARING),)},
    ],
)
def test_who_does_not_share_the_channel_is_left_out(unwanted):
    assert meet(20.0, 60.0, unwanted=unwanted)[1] == ()


def test_a_tacan_meets_the_dme_part_of_a_vor_dme():
    tacan = {"kind": BeaconKind.TACAN, "components": (a_part(AZIMUTH), a_part(DISTANCE))}
    log, (shared,) = meet(20.0, 60.0, wanted={"kind": BeaconKind.VOR_DME, "components": tacan["components"]}, unwanted=tacan)
    assert shared.component is DISTANCE
    assert said(log, "same-channel").startswith("UUU DME is on 113.00 too")


def test_without_a_shared_channel_the_ground_is_not_asked():
    class NoGround:
        fingerprint = "none"

        def elevations_m(self, **_):
            raise AssertionError("nothing was to be worked out")

        window = elevations_m

    ours, theirs = a_vor("WWW", FROM), a_vor("UUU", east(100.0), frequency_khz=114_000)
    materials = materials_for(over(ours), beacons=(ours, theirs), end=east(20.0))
    log = plan(materials).log
    silent = materials_for(over(ours), beacons=(ours, theirs), end=east(20.0), ground=NoGround())
    assert log.legs[1].guidance and shared_channels(log.legs[1], log.profile, silent) == ()


def test_two_stations_of_one_leg_on_one_frequency_are_warned_of():
    """Nothing is tuned at the changeover, so only the ident tells which of the two the needle shows."""
    ours, theirs = a_vor("WWW", FROM, **HIGH), a_vor("UUU", east(60.0), **HIGH)
    flight = {"altitude_ft": ALTITUDE_FT, "aircraft_id": None, "ground": level(west=-38.5, east=-33.0)}
    legs = plan(materials_for(over(ours), over(theirs), beacons=(ours, theirs), **flight)).log.legs
    told = [(leg.number, note) for leg in legs for note in leg.notes if note.code == "one-frequency"]
    assert [number for number, _ in told] == [2] and told[0][1].level is NoteLevel.WARNING
    assert "WWW and UUU on leg 2 are on one frequency" in told[0][1].message
    other = a_vor("UUU", east(60.0), **(HIGH | {"frequency_khz": ours.frequency_khz + 50}))
    again = plan(materials_for(over(ours), over(other), beacons=(ours, other), **flight)).log.legs
    assert [note for leg in again for note in leg.notes if note.code == "one-frequency"] == []
