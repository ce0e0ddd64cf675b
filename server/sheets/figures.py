"""Rounding for people, once: how every number of a log is written on the page, the sheet and the command line.

Knows numbers and their units; knows nothing of layout. What is None is written as MISSING, never as a zero.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from server.navigation import three_digits
from server.navigation.aircraft import FuelMeasure
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.position import Position
from server.planning.log import LegWind
from server.radio.beacon import Beacon, BeaconKind

MISSING = "--"
"""Stands for a value that is not known or cannot be computed."""

KHZ_PER_MHZ = 1000
NOISE_DECIMALS = 6  # arithmetic noise below a millionth is folded away first, so that 92.49999999999999 reads as 92.5

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def rounded(value: float, *, decimals: int = 0) -> Decimal:
    """Round half away from zero, on the decimal digits a person would see."""
    seen = Decimal(repr(round(float(value), NOISE_DECIMALS)))
    nearest = seen.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    return nearest if nearest else abs(nearest)


def course(direction_deg: float | None) -> str:
    """Write a direction with three digits; north is 360, and so are 359.6 and 0.4."""
    return three_digits(direction_deg) if direction_deg is not None and math.isfinite(direction_deg) else MISSING


def variation(east_deg: float | None) -> str:
    """Write a variation or an alignment with its letter: "7° W". Zero has no letter."""
    if east_deg is None or not math.isfinite(east_deg):
        return MISSING
    whole = int(rounded(east_deg))
    if whole == 0:
        return "0°"
    return f"{abs(whole)}° {'E' if whole > 0 else 'W'}"


def alignment(value: Alignment) -> str:
    """Write how a station is turned: "8° W, 1985", "true north", "grid north, 12° E", "not known"."""
    if value.kind is AlignmentKind.TRUE:
        return "true north"
    if value.kind is AlignmentKind.UNKNOWN or value.declination_deg is None:
        return "not known"
    words = variation(value.declination_deg) + (f", {value.year}" if value.year is not None else "")
    return f"grid north, {words}" if value.kind is AlignmentKind.GRID else words


def correction(right_deg: float | None) -> str:
    """Write a wind correction in words: "5° LEFT". Positive is to the right."""
    if right_deg is None or not math.isfinite(right_deg):
        return MISSING
    whole = int(rounded(right_deg))
    if whole == 0:
        return "0°"
    return f"{abs(whole)}° {'RIGHT' if whole > 0 else 'LEFT'}"


def distance(nautical_miles: float | None) -> str:
    """Write a distance to a tenth, without its unit."""
    if nautical_miles is None or not math.isfinite(nautical_miles):
        return MISSING
    return f"{rounded(nautical_miles, decimals=1)}"


def distance_nm(nautical_miles: float | None) -> str:
    """Write a distance to a tenth, with its unit."""
    written = distance(nautical_miles)
    return written if written == MISSING else f"{written} NM"


def duration(minutes: float | None) -> str:
    """Write a time span as hours and minutes: "0:35", "1:05"."""
    if minutes is None or not math.isfinite(minutes):
        return MISSING
    whole = int(rounded(minutes))
    return f"{'-' if whole < 0 else ''}{abs(whole) // 60}:{abs(whole) % 60:02d}"


def duration_in_words(minutes: float | None) -> str:
    """Write a time span for a sentence: "35 min", "1 h 05 min"."""
    if minutes is None or not math.isfinite(minutes):
        return MISSING
    whole = int(rounded(minutes))
    return f"{whole} min" if abs(whole) < 60 else f"{whole // 60} h {whole % 60:02d} min"


def _to_the_minute(moment: datetime) -> datetime:
    in_utc = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    return (in_utc + timedelta(seconds=30)).replace(second=0, microsecond=0)


def clock_utc(moment: datetime | None) -> str:
    """Write a moment's UTC time of day: "14:05Z"."""
    return f"{_to_the_minute(moment):%H:%M}Z" if moment is not None else MISSING


def day_utc(moment: datetime | None) -> str:
    """Write a moment's UTC day: "14 Mar 2026"."""
    if moment is None:
        return MISSING
    day = _to_the_minute(moment)
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def clock_local(moment: datetime | None, *, time_zone: str) -> str:
    """Write the local time of day with the letters of its zone: "11:05 CET". MISSING where the zone is not known."""
    if moment is None or not time_zone:
        return MISSING
    try:
        local = _to_the_minute(moment).astimezone(ZoneInfo(time_zone))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return MISSING
    letters = local.tzname() or ""
    return f"{local:%H:%M} {letters if letters.isalpha() else 'UTC' + letters}"


def altitude(feet: float | None) -> str:
    """Write an altitude to 10 ft: "8,500 ft"."""
    return f"{int(rounded(feet / 10.0)) * 10:,} ft" if feet is not None and math.isfinite(feet) else MISSING


def altitude_at_least(feet: float | None) -> str:
    """Write an altitude that must be reached, rounded up to 100 ft so that the printed figure is never too low."""
    if feet is None or not math.isfinite(feet):
        return MISSING
    return f"{math.ceil(round(feet / 100.0, NOISE_DECIMALS)) * 100:,} ft"


def height(feet: float | None) -> str:
    """Write a height or a difference of heights to 10 ft: "340 ft"; what is less than 10 ft to the foot."""
    if feet is None or not math.isfinite(feet):
        return MISSING
    return f"{int(rounded(feet))} ft" if abs(feet) < 10.0 else altitude(feet)


def margin(feet: float | None) -> str:
    """Write how far one is above a limit, rounded down to 10 ft, with its sign: "+1,240 ft", "−30 ft"."""
    if feet is None or not math.isfinite(feet):
        return MISSING
    tens = math.floor(round(feet / 10.0, NOISE_DECIMALS))
    return f"{'−' if tens < 0 else '+'}{abs(tens) * 10:,} ft"


def decibels(value_db: float | None) -> str:
    """Write a margin in whole decibels, rounded down, with its sign: "+17 dB"."""
    if value_db is None or not math.isfinite(value_db):
        return MISSING
    whole = math.floor(round(value_db, NOISE_DECIMALS))
    return f"{'−' if whole < 0 else '+'}{abs(whole)} dB"


def share(part: float) -> str:
    """Write a share of a whole in whole percent; what is there at all is at least "under 1 %"."""
    return "under 1 %" if 0.0 < part < 0.005 else f"{int(rounded(part * 100.0))} %"


def elevation(feet: float | None) -> str:
    """Write a surveyed elevation to the foot: "2,317 ft"."""
    return f"{int(rounded(feet)):,} ft" if feet is not None and math.isfinite(feet) else MISSING


def speed(knots: float | None) -> str:
    """Write a speed in whole knots, without its unit."""
    return f"{rounded(knots)}" if knots is not None and math.isfinite(knots) else MISSING


def wind(value: LegWind | None) -> str:
    """Write a wind as it is forecast, from true north: "310T/15", or "calm"."""
    return _wind(value, from_deg=value.from_true_deg, letter="T") if value is not None else MISSING


def wind_magnetic(value: LegWind | None) -> str:
    """Write the same wind from magnetic north: "317M/15", or "calm"."""
    return _wind(value, from_deg=value.from_magnetic_deg, letter="M") if value is not None else MISSING


def _wind(value: LegWind, *, from_deg: float, letter: str) -> str:
    whole_kt = rounded(value.speed_kt)
    return "calm" if whole_kt == 0 else f"{course(from_deg)}{letter}/{int(whole_kt):02d}"


def frequency(beacon: Beacon) -> str:
    """Write what is tuned: "373 kHz" for an NDB, "113.35 MHz" for every other kind. The kind decides, never the size of the number."""
    if beacon.frequency_khz is None:
        return MISSING
    if beacon.kind in (BeaconKind.NDB, BeaconKind.NDB_DME):
        return f"{beacon.frequency_khz} kHz"
    return f"{beacon.frequency_khz // KHZ_PER_MHZ}.{beacon.frequency_khz % KHZ_PER_MHZ // 10:02d} MHz"


def fuel(litres: float | None, *, measure: FuelMeasure) -> str:
    """Write fuel to a tenth in the aircraft's unit, with the unit."""
    if litres is None or not math.isfinite(litres):
        return MISSING
    return f"{rounded(measure.amount(litres), decimals=1)} {measure.unit.value}"


def position(value: Position) -> str:
    """Write a position in degrees and minutes to a tenth: "37°21.4'N 118°57.0'W"."""
    return f"{_angle(value.lat_deg, width=2, letters='NS')} {_angle(value.lon_deg, width=3, letters='EW')}"


def _angle(degrees: float, *, width: int, letters: str) -> str:
    tenths = int(rounded(abs(degrees) * 600.0))
    whole, minute_tenths = divmod(tenths, 600)
    letter = letters[0] if degrees >= 0.0 else letters[1]
    return f"{whole:0{width}d}°{minute_tenths // 10:02d}.{minute_tenths % 10}'{letter}"
