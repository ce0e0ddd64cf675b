"""Diffraction: what ground in or near a ray costs. A profile of the ground in, decibels out.

The methods are those of ITU-R P.526. Clauses and equations named are of edition 15 (10/2019); edition 16 (11/2025), the current one, has
the same clauses for them by its page of contents. The compiled loops are in _diffraction_kernels.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from server.errors import OutOfRange, TerrainMissing
from server.navigation.validity import checked, plain
from server.radio.propagation import wavelength_m

LOWEST_FREQUENCY_MHZ = 10.0
"""P.526 section 3.2 holds from here up."""


class Polarisation(StrEnum):
    """Direction of the electric field: horizontal for a VOR, vertical for DME and TACAN (ICAO Annex 10 Vol I)."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


@dataclass(frozen=True, kw_only=True, slots=True)
class GroundConstants:
    """How the ground conducts: relative permittivity [1] and conductivity [S/m]."""

    relative_permittivity: float
    conductivity_s_m: float


LAND = GroundConstants(relative_permittivity=22.0, conductivity_s_m=0.003)  # ITU-R P.452 and P.1812, spherical-earth diffraction
SEA = GroundConstants(relative_permittivity=80.0, conductivity_s_m=5.0)  # the same


@dataclass(frozen=True, kw_only=True, slots=True)
class DiffractionLoss:
    """Loss over a profile, and the parts it is made of: total = bullington + max(spherical - smooth_bullington, 0).

    The effective heights are those of the antennas over the smooth ground that stands for the profile. [m]
    """

    total_db: float
    bullington_db: float
    smooth_bullington_db: float
    spherical_db: float
    transmitter_effective_height_m: float
    receiver_effective_height_m: float


def knife_edge_loss_db(v):
    """Return the loss J(v) behind a single knife edge. [dB]

    Parameters
    ----------
    v : float or array (n,)
        Knife-edge parameter: height of the edge over the straight ray, see knife_edge_parameter; negative when the ray clears it.

    Notes
    -----
    0 from -0.78 down, where the approximation ends: the true loss swings within 1.2 dB of zero there.

    References
    ----------
    ITU-R P.526-15, equation (31). Checked: tests/reference/test_itu_diffraction.py.
    """
    from server.radio import _diffraction_kernels as kernels

    return plain(np.vectorize(kernels.knife_edge_loss, otypes=[float])(v))


def knife_edge_parameter(*, height_m, to_one_end_m, to_other_end_m, frequency_mhz: float):
    """Return the knife-edge parameter v of an edge.

    Parameters
    ----------
    height_m : float or array (n,)
        Top of the edge above the straight line between the antennas, negative below it. [m]
    to_one_end_m, to_other_end_m : float or array (n,)
        Distances from the edge to the antennas, > 0. [m]
    frequency_mhz : float
        > 0. [MHz]

    References
    ----------
    ITU-R P.526-15, equation (26). Checked: tests/reference/test_itu_diffraction.py.
    """
    from server.radio import _diffraction_kernels as kernels

    nearer_m = np.minimum(to_one_end_m, to_other_end_m)
    height_m = checked(
        height_m,
        valid=np.greater(nearer_m, 0.0),
        error=lambda: OutOfRange(
            f"An edge {nearer_m:g} m from an antenna was given. An edge stands between the antennas, more than 0 away."
        ),
    )
    parameter = np.vectorize(kernels.knife_edge_parameter, otypes=[float])
    return plain(parameter(height_m, to_one_end_m, to_other_end_m, wavelength_m(frequency_mhz)))


def spherical_earth_loss_db(
    *,
    distance_m: float,
    height_m: float,
    other_height_m: float,
    frequency_mhz: float,
    polarisation: Polarisation,
    effective_earth_radius_m: float,
    constants: GroundConstants,
) -> float:
    """Return the diffraction loss over a smooth earth, at any distance. [dB]

    Parameters
    ----------
    distance_m : float
        Between the antennas along the ground, > 0. [m]
    height_m, other_height_m : float
        Of the antennas over the smooth ground, >= 0. [m]
    frequency_mhz, polarisation, effective_earth_radius_m, constants
        As for delta_bullington.

    References
    ----------
    ITU-R P.526-15, section 3.2. Checked: tests/reference/test_itu_diffraction.py.
    """
    from server.radio import _diffraction_kernels as kernels

    _refuse_bad_path(distance_m, frequency_mhz, effective_earth_radius_m)
    lower_m = min(height_m, other_height_m)
    if not lower_m >= 0.0:
        raise OutOfRange(f"An antenna {-lower_m:g} m below the ground has no field. Give heights of 0 or more.", code="height-below-ground")
    return kernels.spherical_earth_loss(
        float(distance_m),
        float(height_m),
        float(other_height_m),
        float(effective_earth_radius_m),
        wavelength_m(frequency_mhz),
        constants.relative_permittivity,
        constants.conductivity_s_m,
        polarisation is Polarisation.VERTICAL,
    )


def delta_bullington(
    *,
    distance_m: np.ndarray,
    elevation_m: np.ndarray,
    transmitter_m: float,
    receiver_m: float,
    frequency_mhz: float,
    polarisation: Polarisation,
    effective_earth_radius_m: float,
    constants: GroundConstants,
) -> DiffractionLoss:
    """Find the diffraction loss over a profile of the ground.

    Parameters
    ----------
    distance_m, elevation_m : arrays (n,)
        Profile from the foot of one antenna to the foot of the other: distances from 0, rising [m], and elevations [m above sea level].
    transmitter_m, receiver_m : float
        Altitudes of the two antennas, not below the profile's ends. [m above sea level]
    frequency_mhz : float
        At least 10. [MHz]
    polarisation : Polarisation
    effective_earth_radius_m : float
        4/3 of the earth's for the standard atmosphere; P.526 takes 8,500 km where nothing else is known. [m]
    constants : GroundConstants
        One kind of ground for the whole profile.

    Returns
    -------
    DiffractionLoss

    Raises
    ------
    TerrainMissing
        The profile holds an elevation that is not known (NaN).
    OutOfRange
        Anything else that is not as said above.

    Notes
    -----
    The profile stands for a clear path or one edge (Bullington); what that leaves out over smooth ground is added: the loss of a
    spherical earth less Bullington's over the same earth without terrain. Made for antennas near the ground: heights are taken upright, not
    across the ray, so an edge under a ray that climbs 7 degrees counts 1 % too high, and one under 20 degrees 10 %.

    References
    ----------
    ITU-R P.526-15, section 4.5.2. Checked: tests/reference/test_itu_diffraction.py.
    """
    from server.radio import _diffraction_kernels as kernels

    distance_m, elevation_m = np.asarray(distance_m, dtype=float), np.asarray(elevation_m, dtype=float)
    if distance_m.ndim != 1 or distance_m.shape != elevation_m.shape or distance_m.size < 2:
        raise OutOfRange("A profile needs as many elevations as distances, and two or more of them.")
    if distance_m[0] != 0.0 or not (np.diff(distance_m) > 0.0).all():
        raise OutOfRange("The distances of a profile begin at 0 and rise from point to point.")
    _refuse_bad_path(float(distance_m[-1]), frequency_mhz, effective_earth_radius_m)
    if np.isnan(elevation_m).any():
        raise TerrainMissing("The ground is not known all along the path, so its loss is not either. Load terrain that covers it.")
    lowest_m = min(transmitter_m - elevation_m[0], receiver_m - elevation_m[-1])
    if not lowest_m >= 0.0:
        raise OutOfRange(
            f"An antenna {-lowest_m:g} m below the ground has no field. Give an altitude above it.", code="height-below-ground"
        )
    total_db, bullington_db, smooth_bullington_db, spherical_db, transmitter_height_m, receiver_height_m = kernels.delta_bullington(
        distance_m,
        elevation_m,
        float(transmitter_m),
        float(receiver_m),
        float(effective_earth_radius_m),
        wavelength_m(frequency_mhz),
        constants.relative_permittivity,
        constants.conductivity_s_m,
        polarisation is Polarisation.VERTICAL,
    )
    return DiffractionLoss(
        total_db=total_db,
        bullington_db=bullington_db,
        smooth_bullington_db=smooth_bullington_db,
        spherical_db=spherical_db,
        transmitter_effective_height_m=transmitter_height_m,
        receiver_effective_height_m=receiver_height_m,
    )


def _refuse_bad_path(distance_m: float, frequency_mhz: float, effective_earth_radius_m: float) -> None:
    if not distance_m > 0.0:
        raise OutOfRange(f"A path of {distance_m:g} m was given. A path is longer than 0.")
    if not frequency_mhz >= LOWEST_FREQUENCY_MHZ:
        raise OutOfRange(f"{frequency_mhz:g} MHz was given. Diffraction is worked out from {LOWEST_FREQUENCY_MHZ:g} MHz up.")
    if not effective_earth_radius_m > 0.0:
        raise OutOfRange(f"An effective earth radius of {effective_earth_radius_m:g} m was given. It is greater than 0.")
