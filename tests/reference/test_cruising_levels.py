"""VFR cruising levels: 14 CFR 91.159(a) as printed in 2019, FAA examination items, and the ICAO / SERA table."""

from __future__ import annotations

import pytest

from server.navigation import LevelRule, cruising_level_advice


@pytest.mark.parametrize(
    ("track_deg", "ground_ft", "altitude_ft", "applies", "complies"),
    [
        (90, 500, 5500, True, True),
        (90, 500, 4500, True, False),
        (179.9, 0, 3500, True, True),
        (180.0, 0, 4500, True, True),
        (180.0, 0, 3500, True, False),
        (359.9, 0, 6500, True, True),
        (270, 3000, 5500, False, False),
        (270, 1500, 4500, False, True),  # exactly 3,000 ft above the surface is not more than 3,000
        (0, 0, 17_500, True, True),
        (200, 0, 18_500, False, False),  # (b) begins at 18,000 ft
        (90, 0, 3000, False, False),
        (90, 0, 3001, True, False),
        (90, 1000, 3500, False, True),
    ],
)
def test_agrees_with_14_cfr_91_159(track_deg, ground_ft, altitude_ft, applies, complies):
    advice = cruising_level_advice(LevelRule.US, track_deg, altitude_ft, ground_ft)
    assert (advice.applies, advice.complies) == (applies, complies)


@pytest.mark.parametrize(
    ("track_deg", "odd"), [(0, True), (90, True), (179, True), (179.9, True), (180, False), (270, False), (359.9, False)]
)
def test_agrees_with_the_parity_of_91_159(track_deg, odd):
    for thousands in range(4, 18):
        advice = cruising_level_advice(LevelRule.US, track_deg, thousands * 1000 + 500, 0)
        assert advice.complies == ((thousands % 2 == 1) == odd)


def test_agrees_with_examination_items():
    """FAA private bank: magnetic course 135 asks odd thousands + 500; 175 over ground below 1,000 ft: 5,500; 185: 4,500."""
    assert cruising_level_advice(LevelRule.US, 135, 7500, 0).complies
    assert [cruising_level_advice(LevelRule.US, 175, level, 900).complies for level in (5000, 4500, 5500)] == [False, False, True]
    assert cruising_level_advice(LevelRule.US, 185, 4500, 0).complies


def test_agrees_with_the_icao_semicircular_table():
    """ICAO Annex 2, Appendix 3 (a), VFR in feet, as the UK authority prints it: 000-179 3,500 5,500 ...; 180-359 4,500 6,500 ..."""
    east = [level for level in range(3000, 16_000, 500) if cruising_level_advice(LevelRule.ICAO, 90, level, 0).complies]
    west = [level for level in range(3000, 16_000, 500) if cruising_level_advice(LevelRule.ICAO, 270, level, 0).complies]
    assert east == [3500, 5500, 7500, 9500, 11_500, 13_500, 15_500]
    assert west == [4500, 6500, 8500, 10_500, 12_500, 14_500]
