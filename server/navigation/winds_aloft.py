"""Winds and temperatures aloft: the coded lines of US forecasts, and a short line that a person types.

Coded groups are DDff at heights without a temperature, DDffTT with its sign up to 24,000 ft, and DDffTT without a sign, always below zero,
above. Directions are true, in tens of degrees. A direction of 51 to 86 means 100 kt more and 50 less. 9900 is light and variable.
A line without its heights is placed by its last group, so one that was cut short would land far too high: its signs betray it.
"""

from __future__ import annotations

import re

from server.errors import InputProblem
from server.navigation.route import NorthReference, WindLayer

# Heights and code: FAA-H-8083-28, Aviation Weather Handbook, wind and temperature aloft forecast (from memory of AC 00-45).
STANDARD_HEIGHTS_FT = (3_000, 6_000, 9_000, 12_000, 18_000, 24_000, 30_000, 34_000, 39_000)
ALWAYS_BELOW_ZERO_ABOVE_FT = 24_000
NO_TEMPERATURE_UP_TO_FT = 12_000
"""Temperatures are left out at 3,000 ft and within 2,500 ft of the station's ground, so never above this."""

LIGHT_AND_VARIABLE = "9900"

_GROUP = re.compile(r"(?P<direction>[0-9]{2})(?P<speed>[0-9]{2})(?:(?P<sign>[+-])?(?P<temperature>[0-9]{2}))?")
_TYPED = re.compile(
    r"(?P<altitude>[0-9]{1,2},?[0-9]{3}|[0-9]{1,5})\s*(?:ft)?\s+(?P<from>[0-9]{1,3})(?P<reference>[TM])\s*/\s*(?P<speed>[0-9]{1,3})"
    r"(?:\s*kt)?(?:\s+(?P<temperature>[+-]?[0-9]{1,2}))?",
    re.IGNORECASE,
)


def winds_from_text(text: str) -> tuple[WindLayer, ...]:
    """Read a coded forecast or typed winds, whichever it is.

    Coded: a station's line, with or without the line of heights (FT 3000 6000 ...) above it; without one the standard heights are meant,
    and where a group is missing the lowest are. Typed: altitude, direction with T or M, speed, and if known the temperature, parted by ";":
    "3000 270T/14 +5; 6000 280T/22 -1".

    Raises
    ------
    InputProblem
        A group cannot be read (code wind-words); the message names it.
    """
    lines = [line.strip() for line in text.upper().splitlines() if line.strip()]
    if not lines:
        raise InputProblem(
            "There is no wind in this text. Paste a coded line, or type: 3000 270T/14 +5; 6000 280T/22 -1.", code="wind-words"
        )
    if "/" in text:
        return tuple(_typed(part.strip()) for part in re.split(r"[;\n]", "\n".join(lines)) if part.strip())
    return _coded(lines)


def _typed(part: str) -> WindLayer:
    match = _TYPED.fullmatch(part)
    if match is None or int(match["from"]) > 360:
        text = f'"{part}" is not a wind. Write altitude, direction with T or M, speed, and the temperature if known: 3000 270T/14 +5.'
        raise InputProblem(text, code="wind-words")
    return WindLayer(
        altitude_ft=float(match["altitude"].replace(",", "")),
        from_deg=float(match["from"]),
        speed_kt=float(match["speed"]),
        reference=NorthReference(match["reference"]),
        temperature_c=None if match["temperature"] is None else float(match["temperature"]),
    )


def _coded(lines: list[str]) -> tuple[WindLayer, ...]:
    header = next((line for line in lines if re.match(r"FT\s+[0-9]", line)), None)
    heights_ft = tuple(int(word) for word in header.split()[1:] if word.isdigit()) if header else STANDARD_HEIGHTS_FT
    data = [line for line in lines if line is not header]
    if len(data) != 1:
        text = "Paste the line of one station, with or without the line of heights (FT 3000 6000 ...) above it."
        raise InputProblem(text, code="wind-words")
    words = data[0].split()
    groups = words[1:] if words and not _GROUP.fullmatch(words[0]) else words
    if not groups or len(groups) > len(heights_ft):
        text = f"The line has {len(groups)} groups of wind for {len(heights_ft)} heights. Paste the whole line, with its heights above it."
        raise InputProblem(text, code="wind-words")
    return tuple(_group(word, height_ft) for word, height_ft in zip(groups, heights_ft[-len(groups) :], strict=True))


def _group(word: str, height_ft: int) -> WindLayer:
    match = _GROUP.fullmatch(word)
    if match is None:
        raise InputProblem(f'"{word}" at {height_ft:,} ft is no group of wind and temperature, such as 2714 or 2725+03.', code="wind-words")
    temperature_c = _temperature_c(word, match, height_ft)
    tens, speed_kt = int(match["direction"]), float(match["speed"])
    if word[:4] == LIGHT_AND_VARIABLE:
        tens, speed_kt = 0, 0.0
    elif tens > 50:
        tens, speed_kt = tens - 50, speed_kt + 100.0
    if tens > 36:
        raise InputProblem(f'"{word}" at {height_ft:,} ft: there is no direction {match["direction"]}0.', code="wind-words")
    return WindLayer(
        altitude_ft=float(height_ft), from_deg=tens * 10.0, speed_kt=speed_kt, reference=NorthReference.TRUE, temperature_c=temperature_c
    )


def _temperature_c(word: str, match: re.Match[str], height_ft: int) -> float | None:
    """The temperature of a group, or None where none is printed; refused where the height would print it otherwise."""
    printed, sign = match["temperature"], match["sign"]
    misplaced = ""
    if printed is None and height_ft > NO_TEMPERATURE_UP_TO_FT:
        misplaced = f"there is no temperature, which is left out only near the ground, never above {NO_TEMPERATURE_UP_TO_FT:,} ft"
    elif printed is not None and sign is None and height_ft <= ALWAYS_BELOW_ZERO_ABOVE_FT:
        misplaced = f"the temperature has no sign. Up to {ALWAYS_BELOW_ZERO_ABOVE_FT:,} ft it has + or - before it"
    elif sign is not None and height_ft > ALWAYS_BELOW_ZERO_ABOVE_FT:
        misplaced = f"the temperature has a sign. Above {ALWAYS_BELOW_ZERO_ABOVE_FT:,} ft it has none and is below zero"
    if misplaced:
        text = f'"{word}" at {height_ft:,} ft: {misplaced}. Is that its height? Paste the line of heights (FT 3000 ...) too.'
        raise InputProblem(text, code="wind-words")
    if printed is None:
        return None
    return float(printed) * (1.0 if sign == "+" else -1.0)
