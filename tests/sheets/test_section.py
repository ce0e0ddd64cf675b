"""The section along the route: ground, plan, strips and the ridge that hides a beacon."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest

from server.planning.log import ProfilePoint
from server.radio import ReceptionState
from server.sheets.section import PLOT_HEIGHT, PLOT_LEFT, PLOT_RIGHT, PLOT_TOP, SectionCurve, route_section_svg
from tests.sheets.sheet_builders import FlatGround, RidgeGround, a_hostile_log, a_log

SVG = "{http://www.w3.org/2000/svg}"


def of_class(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def words_of(root: ElementTree.Element) -> list[str]:
    return ["".join(element.itertext()) for element in root.iter(f"{SVG}text") if element.get("class") != "halo"]


def points_of(element: ElementTree.Element) -> np.ndarray:
    return np.array([(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", element.get("d"))])


def a_section(log=None, ground=None, **given) -> ElementTree.Element:
    return ElementTree.fromstring(route_section_svg(log or a_log(), ground or RidgeGround(), **given))


def altitude_of(root: ElementTree.Element, y: float) -> float:
    """Read an altitude off the drawing's own printed axis."""
    labels = [
        label for label in root.iter(f"{SVG}text") if label.get("text-anchor") == "end" and re.fullmatch(r"-?[\d,]+", label.text or "")
    ]
    ticks = [(float(label.get("y")) - 4.5, float(label.text.replace(",", ""))) for label in labels]
    (y1, feet1), (y2, feet2) = ticks[0], ticks[-1]
    return feet1 + (y - y1) * (feet2 - feet1) / (y2 - y1)


def test_unknown_ground_is_hatched_labelled_and_given_no_height():
    root = a_section()
    hatched = of_class(root, "unknown-ground")
    assert len(hatched) == 1
    left, right = float(hatched[0].get("x")), float(hatched[0].get("x")) + float(hatched[0].get("width"))
    assert left == pytest.approx(1087.0, abs=3.0)  # 35 W (with its bend) on the third leg
    assert right == pytest.approx(PLOT_RIGHT, abs=0.5)
    assert words_of(root).count("ground not known") == 2  # on the drawing and in its legend
    filled = points_of(of_class(root, "ground")[0][0])
    assert filled[:, 0].max() <= left + 1.0


def test_known_ground_all_the_way_shows_no_hatching():
    assert not of_class(a_section(ground=FlatGround(100.0)), "unknown-ground")


def test_the_profile_stands_at_the_heights_of_the_ground():
    root = a_section(ground=FlatGround(1000.0))
    surface = points_of(of_class(root, "ground")[0][1])
    assert altitude_of(root, surface[0][1]) == pytest.approx(3280.84, abs=5.0)  # 1000 m, exact foot of 1959
    assert np.ptp(surface[:, 1]) == pytest.approx(0.0, abs=0.02)
    assert surface[0][0] == pytest.approx(PLOT_LEFT, abs=0.5)
    assert surface[-1][0] == pytest.approx(PLOT_RIGHT, abs=0.5)


def test_a_summit_narrower_than_a_drawing_unit_is_not_lost():
    class Needle(FlatGround):
        def elevations_m(self, *, lat_deg, lon_deg):
            lon = np.asarray(lon_deg)
            return np.where(np.abs(lon + 36.2) < 0.0012, 1900.0, 100.0)  # about 0.1 NM wide

    root = a_section(ground=Needle())
    surface = points_of(of_class(root, "ground")[0][1])
    assert altitude_of(root, surface[:, 1].min()) == pytest.approx(6233.6, abs=20.0)  # 1900 m


def test_the_ridge_is_marked_with_its_height_where_it_stands():
    root = a_section()
    told = words_of(of_class(root, "ridges")[0])
    assert len(told) == 1
    assert told[0].startswith("ground of 6,550 ft hides KEV and TRV")
    symbol = of_class(root, "ridges")[0].find(f"{SVG}g")
    x, y = (float(value) for value in re.findall(r"-?[\d.]+", symbol.get("transform")))
    crest = points_of(of_class(root, "ground")[0][1])
    assert x == pytest.approx(crest[crest[:, 1].argmin()][0], abs=6.0)
    assert altitude_of(root, y + 5.0) == pytest.approx(6545.0, abs=30.0)  # 1995 m


def test_the_planned_altitude_is_drawn_at_its_altitude():
    root = a_section()
    planned = points_of(of_class(root, "planned")[0])
    assert [altitude_of(root, y) for y in planned[:, 1]] == pytest.approx([1217.0, 6500.0, 6500.0, 310.0], abs=15.0)
    assert "planned, 6,500 ft" in words_of(root)


def test_each_guiding_beacon_has_a_strip_that_says_where_it_is_received():
    strips = of_class(a_section(), "strip")
    assert [strip.get("data-ident") for strip in strips] == ["KEV", "TRV"]
    assert {"KEV", "received", "not received"} <= set(words_of(strips[0]))
    assert "not known" in words_of(strips[1])
    classes = [group.get("class") for group in of_class(strips[0], "state")]
    assert classes == ["state received", "state received", "state marginal", "state not-received"]


def test_lowest_altitudes_are_dashed_and_break_where_they_are_not_known():
    curve = SectionCurve(
        beacon_ident="KEV",
        distance_nm=np.array([18.0, 25.0, 30.0, 35.0, 40.0, 45.0]),
        lowest_altitude_ft=np.array([2000.0, 2500.0, np.nan, np.nan, 4000.0, 5000.0]),
    )
    root = a_section(curves=(curve,))
    lines = of_class(root, "lowest-altitude")
    assert len(lines) == 2
    assert all(line.get("stroke-dasharray") for line in lines)
    assert altitude_of(root, points_of(lines[1])[1][1]) == pytest.approx(5000.0, abs=15.0)
    assert any(words.startswith("KEV in sight") for words in words_of(root))


def test_a_reader_who_sees_nothing_is_told_what_the_section_shows():
    root = a_section()
    assert root.get("role") == "img"
    assert "Ground of 6,550 ft hides KEV and TRV, first on leg 2." in root.find(f"{SVG}desc").text
    assert "Part of the ground is not known." in root.find(f"{SVG}desc").text


def test_nothing_known_of_the_ground_is_said_and_draws_no_ground():
    class Nothing(FlatGround):
        def elevations_m(self, *, lat_deg, lon_deg):
            return np.full(np.shape(lat_deg), np.nan)

    root = a_section(ground=Nothing())
    assert not of_class(root, "ground")
    assert "No ground is known." in root.find(f"{SVG}desc").text


def test_hostile_names_stay_text():
    root = a_section(a_hostile_log())
    assert not [element for element in root.iter() if element.tag.endswith("script")]


def test_a_leg_of_no_length_does_not_break_the_drawing():
    log = a_log()
    short = replace(log.legs[0], end=replace(log.legs[0].start, number=1), distance_nm=0.0, stretches=(), receptions=(), guidance=())
    profile = (ProfilePoint(distance_nm=0.0, altitude_ft=1217.0),)
    root = a_section(replace(log, legs=(short,), points=(short.start, short.end), total_distance_nm=0.0, profile=profile))
    assert PLOT_TOP < PLOT_TOP + PLOT_HEIGHT <= float(root.get("viewBox").split()[3])


def test_strip_tells_the_least_margins_where_there_is_room():
    log = a_log()
    leg = log.legs[1]
    reception = leg.receptions[1]
    told = replace(
        reception.stretches[0], to_nm=leg.distance_nm, state=ReceptionState.RECEIVED, findings=(), margin_ft=1244.0, margin_db=8.7
    )
    legs = (log.legs[0], replace(leg, receptions=(leg.receptions[0], replace(reception, stretches=(told,)))), log.legs[2])
    assert "received, +1,240 ft, field +8 dB" in words_of(a_section(replace(log, legs=legs)))
