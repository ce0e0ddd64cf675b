"""Stations on the channel of a guiding beacon: who else can be heard along the leg, and by how much the wanted one is stronger.

Predicted power only: the pattern of the antennas is not modelled. Two VORs meet on their frequency, two DME parts on their channel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from server.errors import OutOfRange
from server.navigation import bearings_and_distances, points_along
from server.planning.log_legs import Guidance, LogLeg, Note, NoteLevel, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import part_of_profile
from server.radio import (
    Antenna,
    Beacon,
    ComponentKind,
    ComponentStatus,
    Emission,
    LegPath,
    emission_of,
    margins_along,
    place_antenna,
)
from server.units import metres_from_feet, metres_from_nautical_miles

PROTECTION_DB = 20.0
"""Wanted over unwanted on one channel: ICAO Annex 10 for VOR (from memory). DME is asked for as much here, though it needs less."""

_STEP_NM = 2.0


@dataclass(frozen=True, kw_only=True, slots=True)
class SharedChannel:
    """What one unwanted station does to the guidance of one beacon, where it may be in sight. Distances from the start of the leg.

    ``ratio_db`` is the wanted power density over the unwanted one where it is least, at ``worst_nm``. ``ground_unknown``: some of the
    ground was not known; it then counts as hiding nothing. ``power_assumed``: a power was taken by class.
    """

    wanted: Beacon
    unwanted: Beacon
    component: ComponentKind
    from_nm: float
    to_nm: float
    worst_nm: float
    unwanted_away_nm: float
    ratio_db: float
    ground_unknown: bool
    power_assumed: bool


def same_channel_notes(leg: LogLeg, profile: tuple[ProfilePoint, ...], materials: Materials) -> list[Note]:
    """Name the stations that share the channel of a guiding beacon and may be heard: one note for each two of them."""
    return [_note_on(shared, leg.number) for shared in shared_channels(leg, profile, materials)]


def one_frequency_notes(leg: LogLeg) -> list[Note]:
    """Warn where guidance passes from one station to another on the same frequency: there is nothing to tune, and only the ident tells."""
    tuned = [each for each in leg.guidance if each.to_nm > each.from_nm]
    notes = []
    for before, after in pairwise(tuned):
        khz = before.beacon.frequency_khz
        if khz is None or khz != after.beacon.frequency_khz or before.beacon == after.beacon:
            continue
        text = (
            f"{before.beacon.ident} and {after.beacon.ident} on leg {leg.number} are on one frequency: nothing is tuned at the changeover, "
            "and the needle may show either station. Go by the ident alone, or choose another beacon."
        )
        notes.append(Note(code="one-frequency", level=NoteLevel.WARNING, message=text, leg_number=leg.number))
    return notes


def shared_channels(leg: LogLeg, profile: tuple[ProfilePoint, ...], materials: Materials) -> tuple[SharedChannel, ...]:
    """Find who shares the channel of a guiding VOR and may be in sight where it guides; of two shared channels the worse one.

    Nothing is computed for a station that shares none. ``profile`` is that of the whole flight.
    """
    found = []
    for guidance in leg.guidance:
        for other in materials.beacons.values():
            met = list(_shared(guidance, other, leg, profile, materials))
            if met:
                found.append(min(met, key=lambda each: each.ratio_db))
    return tuple(found)


def _note_on(shared: SharedChannel, leg_number: int) -> Note:
    wanted, unwanted, ratio_db = shared.wanted.ident, shared.unwanted.ident, shared.ratio_db
    khz = shared.wanted.frequency_khz
    channel = f"{khz / 1000.0:.2f}" if khz is not None else f"channel {shared.wanted.channel}"
    part = "DME " if shared.component is ComponentKind.DISTANCE else ""
    may = "may be" if shared.ground_unknown else "is"
    doubts = [
        *(["unknown ground counted as open"] if shared.ground_unknown else []),
        *(["power assumed by class"] if shared.power_assumed else []),
    ]
    aside = f" ({'; '.join(doubts)})" if doubts else ""
    where = f"at {shared.worst_nm:.1f} NM, {shared.unwanted_away_nm:.0f} NM from {unwanted}"
    weak = ratio_db >= PROTECTION_DB
    # rounded down, so that a warning never prints the 20 dB that would be enough
    whole_db = math.floor(abs(ratio_db)) if ratio_db >= 0.0 else math.ceil(abs(ratio_db))
    strength = f"{wanted} is predicted only {whole_db} dB stronger" if ratio_db >= 0.0 else f"it is predicted {whole_db} dB stronger"
    if weak:
        strength = f"{wanted} is predicted at least {whole_db} dB stronger, worst"
    asked = "" if weak else f"; {PROTECTION_DB:.0f} dB are asked for"
    message = (
        f"{unwanted} {part}is on {channel} too, and {may} in sight from {shared.from_nm:.1f} to {shared.to_nm:.1f} NM of leg {leg_number}: "
        f"{strength} {where}{asked}{aside}. Listen to the ident of {wanted}."
    )
    level = NoteLevel.ADVICE if weak else NoteLevel.WARNING
    return Note(code="same-channel-weak" if weak else "same-channel", level=level, message=message, leg_number=leg_number)


def _shared(
    guidance: Guidance, other: Beacon, leg: LogLeg, profile: tuple[ProfilePoint, ...], materials: Materials
) -> Iterator[SharedChannel]:
    wanted = guidance.beacon
    if guidance.component is not ComponentKind.AZIMUTH or (other.id is not None and other.id == wanted.id) or other == wanted:
        return
    for component in (ComponentKind.AZIMUTH, ComponentKind.DISTANCE):
        wanted_sends = transmission_of(wanted, component)
        if wanted_sends is None:
            continue
        for other_component in (ComponentKind.AZIMUTH, ComponentKind.DISTANCE):
            unwanted_sends = transmission_of(other, other_component)
            if unwanted_sends is not None and unwanted_sends.frequency_mhz == wanted_sends.frequency_mhz:
                met = _meet(guidance, component, wanted_sends, other, other_component, unwanted_sends, leg, profile, materials)
                if met is not None:
                    yield met
                break  # the two parts of a TACAN are one transmitter


def transmission_of(beacon: Beacon, component: ComponentKind) -> Emission | None:
    """What a part sends; None for a part that is withdrawn, and for a power that cannot be."""
    part = beacon.component(component)
    if part is None or part.status is ComponentStatus.WITHDRAWN:
        return None
    try:
        return emission_of(beacon, component)
    except OutOfRange:
        return None


@dataclass(frozen=True, kw_only=True, eq=False)
class _Heard:
    """A station at n points. Arrays (n,): whether it may be in sight, whether unknown ground was taken as open, power received over
    that of a 1 W station at 1 m [dB], distance [NM]."""

    in_sight: np.ndarray
    ground_unknown: np.ndarray
    power_db: np.ndarray
    away_nm: np.ndarray


def _meet(
    guidance: Guidance,
    component: ComponentKind,
    wanted_sends: Emission,
    other: Beacon,
    other_component: ComponentKind,
    unwanted_sends: Emission,
    leg: LogLeg,
    profile: tuple[ProfilePoint, ...],
    materials: Materials,
) -> SharedChannel | None:
    """Compare two stations every 2 NM where the first one guides. None where the second is out of sight all along."""
    start, end, wanted = leg.start.position, leg.end.position, guidance.beacon
    length_nm = leg.distance_nm
    path = LegPath(
        start=start,
        end=end,
        distance_nm=length_nm,
        profile=part_of_profile(profile, leg.start_nm, leg.start_nm + length_nm),
    )
    count = max(2, math.ceil((guidance.to_nm - guidance.from_nm) / _STEP_NM) + 1)
    along_nm = np.linspace(guidance.from_nm, guidance.to_nm, count)
    altitude_m = metres_from_feet(path.altitudes_ft(along_nm))
    lat_deg, lon_deg = points_along(start, end, along_nm)
    unwanted_at = _heard(other, other_component, unwanted_sends, lat_deg, lon_deg, altitude_m, materials)
    if not unwanted_at.in_sight.any():
        return None
    wanted_at = _heard(wanted, component, wanted_sends, lat_deg, lon_deg, altitude_m, materials)
    ratio_db = wanted_at.power_db - unwanted_at.power_db
    compared = np.flatnonzero(unwanted_at.in_sight & np.isfinite(ratio_db))
    if compared.size == 0:  # all of it in the ground, or at the antenna
        return None
    worst = compared[np.argmin(ratio_db[compared])]
    return SharedChannel(
        wanted=wanted,
        unwanted=other,
        component=component,
        from_nm=float(along_nm[compared[0]]),
        to_nm=float(along_nm[compared[-1]]),
        worst_nm=float(along_nm[worst]),
        unwanted_away_nm=float(unwanted_at.away_nm[worst]),
        ratio_db=float(ratio_db[worst]),
        ground_unknown=bool((unwanted_at.ground_unknown | wanted_at.ground_unknown)[compared].any()),
        power_assumed=wanted_sends.power_assumed or unwanted_sends.power_assumed,
    )


def _heard(
    beacon: Beacon,
    component: ComponentKind,
    sends: Emission,
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    altitude_m: np.ndarray,
    materials: Materials,
) -> _Heard:
    ground = materials.ground
    part, position = beacon.component(component), beacon.component_position(component)
    elevation_ft = part.elevation_ft if part is not None and part.elevation_ft is not None else beacon.elevation_ft
    _, away_nm = bearings_and_distances(position, lat_deg, lon_deg)
    antenna = place_antenna(
        position=position, published_elevation_ft=elevation_ft, antenna_height_ft=beacon.antenna_height_ft, ground=ground
    )
    if antenna is None:  # how high it stands is not known: it may be seen from everywhere, and distance alone tells its power
        in_sight, ground_unknown = (np.ones(altitude_m.shape, dtype=bool) for _ in range(2))
        antenna = Antenna(position=position, altitude_m=0.0, ground_m=None, height_assumed=True, elevation_estimated=True)
    else:
        table = materials.see(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
        in_sight = altitude_m >= table.lowest_altitude_m
        ground_unknown = table.unknown_from_m <= metres_from_nautical_miles(away_nm)
    margins = margins_along(
        antenna=antenna,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        altitude_m=altitude_m,
        frequency_mhz=sends.frequency_mhz,
        polarisation=sends.polarisation,
        eirp_w=sends.eirp_w,
        minimum_dbw_m2=sends.minimum_dbw_m2,
        ground=ground,
    )
    loss_db = margins.free_space_loss_db + np.where(margins.unknown, 0.0, margins.diffraction_loss_db)
    return _Heard(
        in_sight=in_sight,
        ground_unknown=ground_unknown | margins.unknown,
        power_db=10.0 * math.log10(sends.eirp_w) - loss_db,
        away_nm=away_nm,
    )
