"""The radio side of a leg: which beacons guide it, where each is heard, and where to change from one to the other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from server.navigation import LegChoice, Route, distance_nm
from server.planning.changeover import changeover_nm, slim_parts
from server.planning.guidance import guidance_of, guides_of_leg, off_the_air, reception_of
from server.planning.log_legs import BeaconReception, Guidance, LogPoint, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import part_of_profile
from server.planning.survey_memory import SurveyMemory
from server.radio import Beacon, ComponentKind, LegPath, LegSurvey, Stretch, best_of, outage_on, survey_leg

_LATELY = SurveyMemory()


def survey(
    beacon: Beacon,
    component: ComponentKind,
    path: LegPath,
    materials: Materials,
    *,
    days: tuple[date, ...] | None = None,
    night: str = "",
) -> LegSurvey:
    """Ask the radio model about one part of one beacon along a path, on the day of the flight.

    A leg flown over midnight has two ``days``: the one on which the part is notified out of service counts. ``night`` as for survey_leg.
    """
    part, days = beacon.component(component), days or (materials.on,)
    return _LATELY.survey(
        survey_leg,
        beacon=beacon,
        component=component,
        path=path,
        ground=materials.ground,
        on=next((day for day in days if part is not None and outage_on(part, day) is not None), days[0]),
        estimated_declination_deg=materials.estimated_declination_deg(beacon),
        night=night if component is ComponentKind.BEARING else "",
        doubt=materials.doubt,
        see=materials.see,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class LegCurve:
    """The lowest altitude at which one beacon is in sight along one leg, for the section: distances from departure [NM], altitudes [ft]."""

    leg_number: int
    beacon: Beacon
    component: ComponentKind
    survey: LegSurvey
    start_nm: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LegRadio:
    """The radio side of a leg."""

    guidance: tuple[Guidance, ...]
    changeover_nm: float | None
    changeover_chosen: bool
    stretches: tuple[Stretch, ...]
    receptions: tuple[BeaconReception, ...]
    curves: tuple[LegCurve, ...]


def radio_of_leg(
    points: tuple[LogPoint, ...],
    index: int,
    *,
    start_nm: float,
    track_magnetic_deg: float | None,
    profile: tuple[ProfilePoint, ...],
    materials: Materials,
    days: tuple[date, ...] | None,
    night: str,
    chosen_nm: float | None = None,
) -> LegRadio:
    """Find the guides of the leg points[index] to points[index + 1], survey them, and choose where to change from one to the other.

    A beacon that is off the air that day guides nothing; its reception is told all the same.
    ``start_nm`` is the distance of the leg's start from departure; ``days`` and ``night`` as for ``survey``. ``chosen_nm`` is a changeover
    that the user chose; it holds where it lies on the leg and there is one to make.
    """
    start, end = points[index], points[index + 1]
    length_nm = distance_nm(start.position, end.position)
    altitudes = part_of_profile(profile, start_nm, start_nm + length_nm)
    path = LegPath(start=start.position, end=end.position, distance_nm=length_nm, profile=altitudes)
    asked = [
        (guide, survey(guide.beacon, guide.component, path, materials, days=days, night=night)) for guide in guides_of_leg(points, index)
    ]
    silent = [each for _, each in asked if off_the_air(each.stretches)]
    guides = [guide for guide, each in asked if each not in silent]
    surveys = [each for _, each in asked if each not in silent]
    guidance = [guidance_of(guide, start, end, track_magnetic_deg=track_magnetic_deg, materials=materials) for guide in guides]
    at_nm, chosen = None, False
    if len(guides) == 2:
        chosen = chosen_nm is not None and 0.0 <= chosen_nm <= length_nm
        at_nm = chosen_nm if chosen else _best_changeover_nm(*surveys)
        assert at_nm is not None, "one of both"
        guidance = [replace(guidance[0], to_nm=at_nm), replace(guidance[1], from_nm=at_nm)]
    with_distance = [guide.beacon for guide in guides if guide.beacon.component(ComponentKind.DISTANCE) is not None]
    distance_surveys = [survey(beacon, ComponentKind.DISTANCE, path, materials, days=days) for beacon in with_distance]
    return LegRadio(
        guidance=tuple(guidance),
        changeover_nm=at_nm,
        changeover_chosen=chosen,
        stretches=best_of(*(each.stretches for each in surveys or silent)),
        receptions=tuple(reception_of(each) for each in (*surveys, *silent, *distance_surveys)),
        curves=tuple(
            LegCurve(leg_number=index + 1, beacon=each.beacon, component=each.component, survey=each, start_nm=start_nm) for each in surveys
        ),
    )


def _best_changeover_nm(behind: LegSurvey, ahead: LegSurvey) -> float:
    return changeover_nm(behind.stretches, ahead.stretches, slim_parts(behind), slim_parts(ahead))


def choice_of(route: Route, index: int) -> LegChoice:
    """What the user chose for a leg, counted from 0."""
    return route.onward if index == 0 else route.points[index - 1].onward
