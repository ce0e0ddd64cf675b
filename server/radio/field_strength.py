"""Field strength: the power of a beacon's signal at a point, over the terrain between, against the least that ICAO asks for.

Free space and diffraction over the profile only. Not modelled: reflections and multipath, scalloping, weather and ducting, the antenna's
pattern (its cone is a check of its own) and the aircraft's antenna. Geometry and published limits rule; this tells how strong, not whether.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.errors import OutOfRange, TerrainMissing
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, bearings_and_distances
from server.navigation.position import Position
from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ServiceClass
from server.radio.channels import channel_for_vor_khz, dme_pair
from server.radio.diffraction import LAND, LOWEST_FREQUENCY_MHZ, Polarisation
from server.radio.ground import UNKNOWN_BELOW_M, Ground
from server.radio.horizon import STANDARD_K
from server.radio.propagation import field_dbuv_m, free_space_loss_db, power_density_dbw_m2, wavelength_m
from server.radio.rays import Rays, rays_on_lattice
from server.radio.sight import CLEAR_DISC_M, LONGEST_RAY_M, Antenna
from server.units import metres_from_nautical_miles

VOR_MINIMUM_DBW_M2 = -107.0
"""ICAO Annex 10 Vol I, 3.3.4.2 (from memory): 90 microvolt/m or -107 dBW/m2. The field alone is -106.68 dBW/m2."""

DME_MINIMUM_DBW_M2 = -89.0
"""ICAO Annex 10 Vol I, 3.5.4.1.5.2 (from memory)."""

TERMINAL_VOR_W = 25.0
"""Transmitter of a terminal VOR whose power is not published; 25 to 50 W are common practice."""

VOR_W = 100.0
"""Transmitter of any other VOR whose power is not published (common practice; large ones have 200 W)."""

TERMINAL_DME_W = 100.0
"""Peak power of a terminal DME whose power is not published (common practice)."""

DME_W = 1_000.0
"""Peak power of any other DME or TACAN whose power is not published (common practice; a TACAN has up to 5 kW)."""

VOR_GAIN_DB = 0.0
"""Antenna less cables: what a loop over its counterpoise gains, the cables and the low angle lose (common practice)."""

DME_GAIN_DB = 6.0
"""Antenna less cables: a column of dipoles gains 8 to 10 dB, cables and the edge of the beam lose 2 to 4 dB (common practice)."""

MOST_POWERFUL_W = 100_000.0
"""No beacon's transmitter comes near; more is a slip of the unit."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Emission:
    """What one part of a beacon sends, and the least power density at which it must arrive. ``power_assumed``: not published, by class."""

    frequency_mhz: float
    polarisation: Polarisation
    eirp_w: float
    power_assumed: bool
    minimum_dbw_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldStrength:
    """Prediction for one point. ``margin_db`` is the power density above the minimum, negative below it; losses are positive."""

    power_density_dbw_m2: float
    field_dbuv_m: float
    free_space_loss_db: float
    diffraction_loss_db: float
    margin_db: float
    power_assumed: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Margins:
    """Predictions for n points. Arrays (n,).

    margin_db : power density above the minimum. NaN where ``unknown`` holds, where the aircraft would be in the ground, at the antenna
        itself, and beyond LONGEST_RAY_M. [dB]
    free_space_loss_db : basic transmission loss over the straight distance, antenna to aircraft. [dB]
    diffraction_loss_db : what the ground between costs; NaN where margin_db is. [dB]
    unknown : whether ground on the path is not known. bool
    """

    margin_db: np.ndarray
    free_space_loss_db: np.ndarray
    diffraction_loss_db: np.ndarray
    unknown: np.ndarray


def emission_of(beacon: Beacon, kind: ComponentKind) -> Emission | None:
    """Say what a part of a beacon sends. None for the bearing of an NDB, which is no VHF, and where part, frequency or channel is missing.

    Parameters
    ----------
    beacon : Beacon
    kind : ComponentKind
        AZIMUTH of a VOR is sent on the VOR's frequency, horizontally polarised. AZIMUTH of a TACAN and every DISTANCE is sent on the reply
        frequency of the channel, vertically polarised.

    Raises
    ------
    OutOfRange
        The published power is 0, or absurdly great.

    Notes
    -----
    A published power is the transmitter's, for DME its peak. Without one, and without a class, a terminal station's is taken.

    References
    ----------
    ICAO Annex 10 Vol I, 3.3.3 (polarisation of VOR), 3.5.4.1 (DME).
    """
    part = beacon.component(kind)
    if part is None or kind is ComponentKind.BEARING:
        return None
    if kind is ComponentKind.AZIMUTH and beacon.kind is not BeaconKind.TACAN:
        if beacon.frequency_khz is None:
            return None
        return Emission(
            frequency_mhz=beacon.frequency_khz / 1000.0,
            polarisation=Polarisation.HORIZONTAL,
            eirp_w=_eirp_w(beacon, part, TERMINAL_VOR_W, VOR_W, VOR_GAIN_DB),
            power_assumed=part.power_w is None,
            minimum_dbw_m2=VOR_MINIMUM_DBW_M2,
        )
    reply_mhz = _reply_mhz(beacon)
    if reply_mhz is None:
        return None
    return Emission(
        frequency_mhz=reply_mhz,
        polarisation=Polarisation.VERTICAL,
        eirp_w=_eirp_w(beacon, part, TERMINAL_DME_W, DME_W, DME_GAIN_DB),
        power_assumed=part.power_w is None,
        minimum_dbw_m2=DME_MINIMUM_DBW_M2,
    )


def predicted(
    *,
    antenna: Antenna,
    emission: Emission,
    position: Position,
    altitude_m: float,
    ground: Ground,
    effective_earth_factor: float = STANDARD_K,
) -> FieldStrength:
    """Predict the field strength of a beacon at one point.

    Parameters
    ----------
    antenna : Antenna
        From place_antenna.
    emission : Emission
        From emission_of.
    position, altitude_m
        The aircraft. [m above sea level]
    ground, effective_earth_factor
        As for margins_along.

    Raises
    ------
    TerrainMissing
        Ground on the path is not known.
    OutOfRange
        The point is in the ground, at the antenna, or farther than LONGEST_RAY_M.
    """
    margins = margins_along(
        antenna=antenna,
        lat_deg=np.array([position.lat_deg]),
        lon_deg=np.array([position.lon_deg]),
        altitude_m=np.array([altitude_m]),
        frequency_mhz=emission.frequency_mhz,
        polarisation=emission.polarisation,
        eirp_w=emission.eirp_w,
        minimum_dbw_m2=emission.minimum_dbw_m2,
        ground=ground,
        effective_earth_factor=effective_earth_factor,
    )
    margin_db = float(margins.margin_db[0])
    if margins.unknown[0]:
        raise TerrainMissing(
            "Ground between the beacon and the point is not known, so the field is not either. Load terrain that covers it."
        )
    if math.isnan(margin_db):
        raise OutOfRange(f"No field can be told at {altitude_m:.0f} m there: the point is in the ground, at the antenna, or too far away.")
    density_dbw_m2 = emission.minimum_dbw_m2 + margin_db
    return FieldStrength(
        power_density_dbw_m2=density_dbw_m2,
        field_dbuv_m=field_dbuv_m(density_dbw_m2),
        free_space_loss_db=float(margins.free_space_loss_db[0]),
        diffraction_loss_db=float(margins.diffraction_loss_db[0]),
        margin_db=margin_db,
        power_assumed=emission.power_assumed,
    )


def margins_along(
    *,
    antenna: Antenna,
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    altitude_m: np.ndarray,
    frequency_mhz: float,
    polarisation: Polarisation,
    eirp_w: float,
    minimum_dbw_m2: float,
    ground: Ground,
    effective_earth_factor: float = STANDARD_K,
) -> Margins:
    """Predict by how much a beacon's signal exceeds the minimum at n points, one profile of the terrain per point.

    Parameters
    ----------
    antenna : Antenna
        From place_antenna. Where the ground at its foot is not known, nothing is.
    lat_deg, lon_deg, altitude_m : arrays (n,)
        The aircraft. [deg], [m above sea level]
    frequency_mhz : float
        At least 10. [MHz]
    polarisation : Polarisation
    eirp_w : float
        Radiated power (EIRP), > 0. [W]
    minimum_dbw_m2 : float
        Least power density. [dBW/m2]
    ground : Ground
        Terrain; asked once, for one window round all profiles.
    effective_earth_factor : float
        Radius of the effective earth over that of the earth, > 0.

    Returns
    -------
    Margins
        Arrays (n,).

    Notes
    -----
    A profile is the ray's own walk over the posts (server/radio/sight.py): the ground at every line of posts that the ray crosses and at
    every crest seen from the antenna within a patch, so no summit falls between two samples. What lies between two of its points leaves
    the straight line by at most a quarter of the twist of one patch. Ground nearer than CLEAR_DISC_M to the antenna counts as level and
    costs nothing. All ground counts as land: over a smooth sea the loss of a VOR is the same
    within 0.01 dB, that of DME 0.1 dB less at 200 km.
    """
    _refuse_bad_signal(frequency_mhz, eirp_w, effective_earth_factor)
    lat_deg, lon_deg, altitude_m = (np.asarray(values, dtype=float) for values in (lat_deg, lon_deg, altitude_m))
    bearing_true_deg, distance_nm = bearings_and_distances(antenna.position, lat_deg, lon_deg)
    distance_m = metres_from_nautical_miles(distance_nm)
    loss_db = np.where(distance_m <= CLEAR_DISC_M, 0.0, np.nan)
    unknown = np.zeros(distance_m.shape, dtype=bool)
    far = (distance_m > CLEAR_DISC_M) & (distance_m <= LONGEST_RAY_M)
    rays = rays_on_lattice(antenna.position, np.nan_to_num(bearing_true_deg[far]), distance_m[far], ground)
    loss_db[far], unknown[far] = _losses_over(
        rays,
        antenna=antenna,
        altitude_m=altitude_m[far],
        wavelength=wavelength_m(frequency_mhz),
        vertical=polarisation is Polarisation.VERTICAL,
        effective_radius_m=effective_earth_factor * MEAN_EARTH_RADIUS_M,
    )
    straight_m = _straight_distance_m(antenna.altitude_m, altitude_m, distance_m)
    density_dbw_m2 = power_density_dbw_m2(eirp_w=eirp_w, distance_m=straight_m) - loss_db
    return Margins(
        margin_db=density_dbw_m2 - minimum_dbw_m2,
        free_space_loss_db=free_space_loss_db(distance_m=straight_m, frequency_mhz=frequency_mhz),
        diffraction_loss_db=np.where(np.isnan(straight_m), np.nan, loss_db),
        unknown=unknown,
    )


def _losses_over(
    rays: Rays, *, antenna: Antenna, altitude_m: np.ndarray, wavelength: float, vertical: bool, effective_radius_m: float
) -> tuple[np.ndarray, np.ndarray]:
    """Diffraction loss [dB] over each ray, and whether ground on it is not known. arrays (n,)"""
    from server.radio import _diffraction_kernels, _kernels

    loss_db = np.full(altitude_m.size, np.nan)
    unknown = np.ones(altitude_m.size, dtype=bool)
    if antenna.ground_m is None:
        return loss_db, unknown
    for k in range(altitude_m.size):
        nodes = slice(rays.first_node[k], rays.first_node[k + 1])
        row, column, node_m = rays.row[nodes], rays.column[nodes], rays.distance_m[nodes]
        size = 1 + _kernels.turning_points_at_most(row, column)
        profile_m, elevation_m = np.zeros(size), np.empty(size)
        elevation_m[0] = antenna.ground_m
        count = 1 + _kernels.walk(
            rays.posts, UNKNOWN_BELOW_M, row, column, node_m, CLEAR_DISC_M, antenna.altitude_m, effective_radius_m,
            profile_m[1:], elevation_m[1:],
        )  # fmt: skip
        profile_m, elevation_m = profile_m[:count], elevation_m[:count]
        unknown[k] = np.isnan(elevation_m).any()
        if not unknown[k] and altitude_m[k] >= elevation_m[-1]:
            loss_db[k] = _diffraction_kernels.delta_bullington(
                profile_m, elevation_m, antenna.altitude_m, altitude_m[k], effective_radius_m, wavelength,
                LAND.relative_permittivity, LAND.conductivity_s_m, vertical,
            )[0]  # fmt: skip
    return loss_db, unknown


def _straight_distance_m(antenna_m: float, altitude_m: np.ndarray, distance_m: np.ndarray) -> np.ndarray:
    """Straight from the antenna to points (n,) over the sphere: the law of cosines, in a form that keeps small distances. NaN for none."""
    radius_m, other_radius_m = MEAN_EARTH_RADIUS_M + antenna_m, MEAN_EARTH_RADIUS_M + altitude_m
    half_angle = distance_m / (2.0 * MEAN_EARTH_RADIUS_M)
    straight_m = np.sqrt((other_radius_m - radius_m) ** 2 + 4.0 * radius_m * other_radius_m * np.sin(half_angle) ** 2)
    return np.where(straight_m > 0.0, straight_m, np.nan)


def _eirp_w(beacon: Beacon, part: Component, terminal_w: float, other_w: float, gain_db: float) -> float:
    """Radiated power of a part: its transmitter's as published, else by class, with the antenna's gain."""
    power_w = part.power_w
    if power_w is None:
        power_w = terminal_w if part.service_class in (None, ServiceClass.T) else other_w
    if not 0.0 < power_w <= MOST_POWERFUL_W:
        raise OutOfRange(
            f"{beacon.ident}, {part.kind} part: a power of {power_w:g} W cannot be. Give more than 0 and at most {MOST_POWERFUL_W:,.0f} W, "
            "or leave it empty where it is not published."
        )
    return power_w * 10.0 ** (gain_db / 10.0)


def _reply_mhz(beacon: Beacon) -> float | None:
    """Frequency on which the station answers, None where neither channel nor a frequency with a channel is known. [MHz]"""
    if beacon.channel:
        return float(dme_pair(beacon.channel).reply_mhz)
    if beacon.frequency_khz is None:
        return None
    try:
        return float(dme_pair(channel_for_vor_khz(beacon.frequency_khz)).reply_mhz)
    except OutOfRange:
        return None  # an NDB's frequency has no channel


def _refuse_bad_signal(frequency_mhz: float, eirp_w: float, effective_earth_factor: float) -> None:
    if not frequency_mhz >= LOWEST_FREQUENCY_MHZ:
        raise OutOfRange(f"{frequency_mhz:g} MHz was given. Field strength is worked out from {LOWEST_FREQUENCY_MHZ:g} MHz up.")
    if not (eirp_w > 0.0 and math.isfinite(eirp_w)):
        raise OutOfRange(f"A radiated power of {eirp_w:g} W was given. Give more than 0, or leave it out where it is not known.")
    if not effective_earth_factor > 0.0:
        raise OutOfRange(f"An effective earth factor of {effective_earth_factor:g} was given. It is greater than 0; 4/3 is usual.")
