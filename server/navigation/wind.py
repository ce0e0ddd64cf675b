"""The wind triangle, and the wind at a height between two forecast heights.

Wind is where it blows from. A positive crosswind comes from the right and asks for a positive correction; a positive headwind is against.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from server.errors import InputProblem, NoHeadingHoldsTrack
from server.navigation.bearings import fold_deg, three_digits
from server.navigation.route import NorthReference, WindLayer
from server.navigation.validity import checked

_LEAST_GROUNDSPEED_KT = 1e-9  # zero, but for the rounding of the sines
FloatOrArray = Any
"""A float where the question was of single numbers, an array where it was of arrays."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wind:
    """True direction the wind blows from [deg] and its speed [kt]. Calm is 0 kt."""

    from_true_deg: float
    speed_kt: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class WindCorrection:
    """What holds a track in a wind: floats, or arrays of one shape with NaN where no heading does it."""

    wind_correction_deg: FloatOrArray
    heading_true_deg: FloatOrArray
    groundspeed_kt: FloatOrArray
    headwind_kt: FloatOrArray
    crosswind_kt: FloatOrArray


def wind_correction(*, track_true_deg, true_airspeed_kt, wind_from_true_deg, wind_kt) -> WindCorrection:
    """Find the heading that holds a track in a steady wind, and the groundspeed it gives.

    Parameters
    ----------
    track_true_deg : float or array (n,)
        Track over the ground, clockwise from true north. [deg]
    true_airspeed_kt : float or array (n,)
        Speed through the air. [kt]
    wind_from_true_deg, wind_kt : float or array (n,)
        True direction the wind blows from [deg] and its speed. [kt]

    Returns
    -------
    WindCorrection
        Each of the broadcast shape. The correction is positive to the right.

    Raises
    ------
    NoHeadingHoldsTrack
        Scalars only: the crosswind exceeds the airspeed, or no groundspeed is left. Arrays hold NaN there.

    Notes
    -----
    sin(correction) = crosswind / airspeed; groundspeed = airspeed cos(correction) - headwind.
    Valid for a wind that is uniform along the leg.

    References
    ----------
    Plane vector triangle. Checked: tests/reference/test_wind_triangle.py.
    """
    angle = np.radians(np.subtract(wind_from_true_deg, track_true_deg))
    headwind_kt = wind_kt * np.cos(angle)
    crosswind_kt = wind_kt * np.sin(angle)
    airspeed_kt = np.asarray(true_airspeed_kt, dtype=float)
    flying = airspeed_kt > 0.0
    sine = crosswind_kt / np.where(flying, airspeed_kt, np.nan)
    solvable = np.abs(sine) <= 1.0
    correction = np.arcsin(np.where(solvable, sine, 0.0))
    groundspeed_kt = airspeed_kt * np.cos(correction) - headwind_kt
    valid = solvable & (groundspeed_kt > _LEAST_GROUNDSPEED_KT)

    def refuse() -> NoHeadingHoldsTrack:
        return _no_heading(track_true_deg, true_airspeed_kt, wind_from_true_deg, wind_kt, bool(solvable), float(headwind_kt))

    def hold(value):
        return checked(np.broadcast_to(value, np.shape(valid)), valid=valid, error=refuse)

    correction_deg = np.degrees(correction)
    return WindCorrection(
        wind_correction_deg=hold(correction_deg),
        heading_true_deg=hold(fold_deg(np.add(track_true_deg, correction_deg))),
        groundspeed_kt=hold(groundspeed_kt),
        headwind_kt=hold(headwind_kt),
        crosswind_kt=hold(crosswind_kt),
    )


def wind_from_heading(*, heading_true_deg: float, true_airspeed_kt: float, track_true_deg: float, groundspeed_kt: float) -> Wind:
    """Find the wind from what was held and what came of it: the wind triangle turned round.

    Wind = ground vector - air vector, both as directions of motion; the wind blows from the opposite direction.
    """
    north_kt = groundspeed_kt * math.cos(math.radians(track_true_deg)) - true_airspeed_kt * math.cos(math.radians(heading_true_deg))
    east_kt = groundspeed_kt * math.sin(math.radians(track_true_deg)) - true_airspeed_kt * math.sin(math.radians(heading_true_deg))
    return _wind_of_components(-north_kt, -east_kt)


def wind_at(layers: tuple[WindLayer, ...], altitude_ft: float, *, variation_deg: float) -> Wind:
    """Return the wind at an altitude from forecast layers.

    Parameters
    ----------
    layers : tuple of WindLayer
        In any order, true or magnetic.
    altitude_ft : float
        Where the wind is wanted. [ft above sea level]
    variation_deg : float
        Local variation, to turn magnetic layers to true, positive east. [deg]

    Raises
    ------
    InputProblem
        There is no layer, two layers share a height, or a layer holds something that is not a wind.

    Notes
    -----
    Components are interpolated linearly between the two neighbouring heights, never directions: between 350 and 010 lies 360, not 180.
    Below the lowest and above the highest layer its wind is kept.
    """
    if not layers:
        raise InputProblem("No wind is given. Enter the wind, or a calm as 0 kt.", code="wind-missing", place="wind")
    ordered = sorted(layers, key=lambda layer: layer.altitude_ft)
    for layer in ordered:
        _check_layer(layer)
    heights_ft = [layer.altitude_ft for layer in ordered]
    if len(set(heights_ft)) < len(heights_ft):
        raise InputProblem("Two winds are given for one altitude. Keep one of them.", code="wind-layer-twice", place="wind")
    components = [_components(layer, variation_deg) for layer in ordered]
    north_kt = float(np.interp(altitude_ft, heights_ft, [north for north, _ in components]))
    east_kt = float(np.interp(altitude_ft, heights_ft, [east for _, east in components]))
    return _wind_of_components(north_kt, east_kt)


def _components(layer: WindLayer, variation_deg: float) -> tuple[float, float]:
    """Return the north and east parts of the direction the layer's wind blows from. [kt]"""
    from_true_deg = layer.from_deg + (variation_deg if layer.reference is NorthReference.MAGNETIC else 0.0)
    return layer.speed_kt * math.cos(math.radians(from_true_deg)), layer.speed_kt * math.sin(math.radians(from_true_deg))


def _wind_of_components(north_kt: float, east_kt: float) -> Wind:
    speed_kt = math.hypot(north_kt, east_kt)
    if speed_kt < 1e-9:
        return Wind(from_true_deg=0.0, speed_kt=0.0)
    return Wind(from_true_deg=fold_deg(math.degrees(math.atan2(east_kt, north_kt))), speed_kt=speed_kt)


def _check_layer(layer: WindLayer) -> None:
    if not all(math.isfinite(value) for value in (layer.altitude_ft, layer.from_deg, layer.speed_kt)) or layer.speed_kt < 0.0:
        raise InputProblem(
            f"The wind {layer.from_deg:g}/{layer.speed_kt:g} at {layer.altitude_ft:g} ft is not a wind: give where it blows from "
            "in degrees and its speed in knots, 0 or more.",
            code="wind-layer-bad",
            place="wind",
        )


def _no_heading(track_true_deg, true_airspeed_kt, wind_from_true_deg, wind_kt, solvable: bool, headwind_kt: float) -> NoHeadingHoldsTrack:
    track, wind = three_digits(track_true_deg), f"wind {three_digits(wind_from_true_deg)} true at {wind_kt:.0f} kt"
    if solvable:
        return NoHeadingHoldsTrack(
            f"Track {track} true: the {headwind_kt:.0f} kt headwind ({wind}) leaves no groundspeed at "
            f"{true_airspeed_kt:.0f} kt true airspeed. Try another height, speed or time."
        )
    crosswind_kt = abs(wind_kt * math.sin(math.radians(wind_from_true_deg - track_true_deg)))
    return NoHeadingHoldsTrack(
        f"Track {track} true: the {crosswind_kt:.0f} kt crosswind ({wind}) exceeds the "
        f"{true_airspeed_kt:.0f} kt true airspeed. Try another height, speed or time."
    )
