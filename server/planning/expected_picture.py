"""The picture a pilot should see at a place of a leg: needle, flag and DME of the beacon that guides there, or the pointer to an NDB."""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import OutOfRange
from server.navigation import distance_nm, inverse, magnetic_from_true_deg, radial_from, slant_range_nm
from server.navigation.indicator import Indication, relative_bearing_deg, vor_indication
from server.navigation.position import Position
from server.navigation.radials import Radial
from server.planning.leg_times import part_at
from server.planning.log_legs import Guidance, LogLeg
from server.planning.materials import Materials
from server.radio import Beacon, Cause, ComponentKind, ReceptionState, Stretch, antenna_of
from server.units import feet_from_metres


@dataclass(frozen=True, kw_only=True, slots=True)
class ExpectedPicture:
    """What the guiding beacon shows at one place of a leg, flown on track. What is None cannot be told or is not there."""

    beacon: Beacon
    component: ComponentKind
    state: ReceptionState | None
    """Its reception there; None where it was not asked."""
    overhead: bool
    """In the cone over the station, where needle and flag mean nothing."""
    selected_course_deg: float | None
    radial: Radial | None
    indication: Indication | None
    """Needle and flag on the selected course; None overhead and for an NDB."""
    dme_nm: float | None
    """What the DME reads, slant; None where the station has none that is received there. [NM]"""
    bearing_magnetic_deg: float | None
    """For an NDB: the magnetic bearing to it. [deg]"""
    relative_bearing_deg: float | None
    """For an NDB: where the pointer stands, from the nose on the planned heading. [deg]"""

    @property
    def heard(self) -> bool:
        """Whether one may count on seeing this."""
        return self.state in (ReceptionState.RECEIVED, ReceptionState.MARGINAL)


def guidance_at(leg: LogLeg, at_nm: float) -> Guidance | None:
    """What guides a place of a leg; at the changeover still the beacon behind. None where nothing does."""
    tuned = [each for each in leg.guidance if each.to_nm > each.from_nm]
    return next((each for each in tuned if at_nm <= each.to_nm), tuned[-1] if tuned else None)


def expected_picture(leg: LogLeg, at_nm: float, position: Position, altitude_ft: float, materials: Materials) -> ExpectedPicture | None:
    """Tell what to expect at a place of a leg; None where nothing guides it."""
    guidance = guidance_at(leg, at_nm)
    if guidance is None:
        return None
    beacon, component = guidance.beacon, guidance.component
    here = _stretch_at(leg, beacon, component, at_nm)
    overhead = here is not None and here.has(Cause.OVERHEAD_CONE)
    radial, indication, bearing_deg = None, None, None
    if component is ComponentKind.BEARING:
        bearing_deg = _bearing_to(beacon, position, materials)
    else:
        radial = radial_at(beacon, position, materials)
        if radial is not None and guidance.selected_course_deg is not None and not overhead:
            indication = vor_indication(radial_deg=radial.value_deg, selected_course_deg=guidance.selected_course_deg)
    part = part_at(leg, at_nm)
    heading_deg = part.heading_magnetic_deg if part is not None else None
    pointer_deg = None
    if bearing_deg is not None and heading_deg is not None:
        pointer_deg = relative_bearing_deg(bearing_deg=bearing_deg, heading_deg=heading_deg)
    dme = _stretch_at(leg, beacon, ComponentKind.DISTANCE, at_nm)
    hears_dme = dme is not None and dme.state in (ReceptionState.RECEIVED, ReceptionState.MARGINAL)
    return ExpectedPicture(
        beacon=beacon,
        component=component,
        state=here.state if here is not None else None,
        overhead=overhead,
        selected_course_deg=guidance.selected_course_deg,
        radial=radial,
        indication=indication,
        dme_nm=indicated_dme_nm(beacon, position, altitude_ft, materials) if hears_dme else None,
        bearing_magnetic_deg=bearing_deg,
        relative_bearing_deg=pointer_deg,
    )


def radial_at(beacon: Beacon, position: Position, materials: Materials) -> Radial | None:
    """The radial of a beacon over a place; None overhead and where the beacon's north is not known."""
    estimated_deg = materials.estimated_declination_deg(beacon)
    station = beacon.component_position(ComponentKind.AZIMUTH)
    try:
        return radial_from(station, beacon.alignment, position, estimated_declination_deg=estimated_deg)
    except OutOfRange:  # a grid station without its grid angle has no radials; a note of the leg says so
        return None


def antenna_altitude_ft(beacon: Beacon, component: ComponentKind, materials: Materials) -> float | None:
    """The altitude of a part's antenna; None where the beacon has no such part or its elevation is not known. [ft]"""
    part = beacon.component(component)
    antenna = antenna_of(beacon, part, materials.ground) if part is not None else None
    return float(feet_from_metres(antenna.altitude_m)) if antenna is not None else None


def indicated_dme_nm(beacon: Beacon, position: Position, altitude_ft: float, materials: Materials) -> float | None:
    """What a beacon's DME reads at a place: the slant distance to where the DME itself stands. None where that cannot be told. [NM]"""
    antenna_ft = antenna_altitude_ft(beacon, ComponentKind.DISTANCE, materials)
    if antenna_ft is None:
        return None
    return slant_range_nm(distance_nm(beacon.component_position(ComponentKind.DISTANCE), position), altitude_ft - antenna_ft)


def _bearing_to(beacon: Beacon, position: Position, materials: Materials) -> float | None:
    """The magnetic bearing from a place to an NDB; None overhead. [deg]"""
    true_deg = inverse(position, beacon.component_position(ComponentKind.BEARING)).initial_true_deg
    return None if true_deg is None else magnetic_from_true_deg(true_deg, materials.variation_at(position).deg)


def _stretch_at(leg: LogLeg, beacon: Beacon, component: ComponentKind, at_nm: float) -> Stretch | None:
    for reception in leg.receptions:
        if reception.beacon == beacon and reception.component is component:
            return next((each for each in reception.stretches if at_nm <= each.to_nm), reception.stretches[-1])
    return None
