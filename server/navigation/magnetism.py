"""Local magnetic variation from the World Magnetic Model 2025, by NOAA's own package.

The variation belongs to a place and a day: it turns tracks and headings. It never makes a radial of a station whose alignment is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache

import numpy as np

from server.navigation.position import Position
from server.units import metres_from_feet

MODEL_NAME = "WMM2025"
MODEL_FIRST_DAY = date(2024, 11, 13)  # release, header of the coefficient file
MODEL_LAST_DAY = date(2029, 12, 31)  # five years from the epoch
_EPOCH_YEAR = 2025.0
_NEAREST_POLE_DEG = 90.0 - 1e-3  # 100 m beside a pole: nearer, version 1.4.4 of the package takes the south pole for the north
_UNRELIABLE_HORIZONTAL_NT = 2000.0  # blackout zone, same source
_WEAK_HORIZONTAL_NT = 6000.0  # caution zone round the magnetic poles, MIL-PRF-89500B as quoted by the package


@dataclass(frozen=True, kw_only=True, slots=True)
class Variation:
    """Variation [deg], positive east, and how far it can be trusted.

    ``model_valid`` is False outside the model's dates. ``weak_horizontal`` is True near the magnetic poles, where a compass is of little
    use. ``uncertainty_deg`` is the model's own standard error.
    """

    deg: float
    model: str
    model_valid: bool
    weak_horizontal: bool
    unreliable_horizontal: bool
    """Where the horizontal field is so weak (under 2,000 nT) that the model gives no dependable direction: the blackout zone."""
    uncertainty_deg: float


def decimal_year(on: date | datetime) -> float:
    """Return a day or an instant (UTC unless it says otherwise) as a decimal year: 2026-07-02 is about 2026.5."""
    if isinstance(on, datetime):
        instant = on.astimezone(UTC) if on.tzinfo is not None else on.replace(tzinfo=UTC)
    else:
        instant = datetime(on.year, on.month, on.day, tzinfo=UTC)
    start = datetime(instant.year, 1, 1, tzinfo=UTC)
    days_in_year = 366.0 if _is_leap(instant.year) else 365.0
    return instant.year + (instant - start).total_seconds() / 86_400.0 / days_in_year


@lru_cache(maxsize=8192)  # one question costs 2 ms, and a plan asks the same ones again and again
def variation(position: Position, on: date | datetime, *, altitude_ft: float = 0.0) -> Variation:
    """Return the magnetic variation at a place on a day.

    Outside the model's dates the value is the straight continuation of the model, with ``model_valid`` False; never an error.

    References
    ----------
    World Magnetic Model 2025 (NOAA NCEI and BGS). Standard error of the declination: sqrt(0.26^2 + (5417 / H)^2) deg, H in nT, from the
    model's error model; the package's own figure is wrong in version 1.4.4. Checked: tests/reference/test_magnetic_model.py.
    """
    north_nt, east_nt = horizontal_field_nt(
        [position.lat_deg], [position.lon_deg], decimal_year=decimal_year(on), altitude_m=[metres_from_feet(altitude_ft)]
    )
    horizontal_nt = math.hypot(north_nt[0], east_nt[0])
    day = on.astimezone(UTC).date() if isinstance(on, datetime) and on.tzinfo else on.date() if isinstance(on, datetime) else on
    return Variation(
        deg=math.degrees(math.atan2(east_nt[0], north_nt[0])),
        model=MODEL_NAME,
        model_valid=MODEL_FIRST_DAY <= day <= MODEL_LAST_DAY,
        weak_horizontal=horizontal_nt < _WEAK_HORIZONTAL_NT,
        unreliable_horizontal=horizontal_nt < _UNRELIABLE_HORIZONTAL_NT,
        uncertainty_deg=min(180.0, math.hypot(0.26, 5417.0 / max(horizontal_nt, 1e-9))),
    )


def variations_deg(lat_deg, lon_deg, *, decimal_year: float, altitude_m) -> np.ndarray:
    """Return variations [deg], positive east, at many points of one moment.

    Parameters
    ----------
    lat_deg, lon_deg : array (n,)
        Places. [deg]
    decimal_year : float
        The moment; outside the model's span the model is continued.
    altitude_m : float or array (n,)
        Height above the ellipsoid; altitude above sea level will do, 100 m change the variation by less than 0.001 deg. [m]
    """
    north_nt, east_nt = horizontal_field_nt(lat_deg, lon_deg, decimal_year=decimal_year, altitude_m=altitude_m)
    return np.degrees(np.arctan2(east_nt, north_nt))


def horizontal_field_nt(lat_deg, lon_deg, *, decimal_year: float, altitude_m) -> tuple[np.ndarray, np.ndarray]:
    """Return the north and east components of the field. [nT]

    Notes
    -----
    The coefficients change linearly in time and the field is linear in the coefficients, so the components at any moment are those at the
    epoch plus their yearly change times the years since: exact inside the model's span, and defined outside it.
    """
    lat_deg, lon_deg, altitude_m = np.broadcast_arrays(
        np.atleast_1d(np.asarray(lat_deg, dtype=float)), np.asarray(lon_deg, dtype=float), np.asarray(altitude_m, dtype=float)
    )
    lat_deg = np.clip(lat_deg, -_NEAREST_POLE_DEG, _NEAREST_POLE_DEG)
    model = _new_model()
    model.setup_env(lat_deg, lon_deg.copy(), altitude_m / 1000.0, unit="km", msl=False)
    model.setup_time(dyear=_EPOCH_YEAR)
    north_nt, east_nt, _ = model.forward_base()
    north_nt_per_year, east_nt_per_year, _ = model.forward_sv()
    years = decimal_year - _EPOCH_YEAR
    return north_nt + years * north_nt_per_year, east_nt + years * east_nt_per_year


def _new_model():
    """Return a fresh model: it keeps its inputs inside, so threads must not share one. Imported here because loading takes 0.1 s."""
    from wmm import wmm_calc

    class QuietModel(wmm_calc):
        """Says nothing near the magnetic poles; ``weak_horizontal`` tells it instead."""

        def check_blackout_zone(self, Bx, By, Bz):
            return None

    return QuietModel()


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
