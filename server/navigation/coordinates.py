"""Reading what people type: numbers, latitudes, longitudes, positions; and writing a position so that it can be read back.

Only plain digits 0 to 9 count. Nothing is guessed: what can be read two ways is refused.
"""

from __future__ import annotations

import math
import re

from server.errors import InputProblem
from server.navigation.position import Position

_LONGEST_NUMBER = 30
_LONGEST_POSITION = 80
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
_SAME_SIGN = str.maketrans(
    {
        "−": "-", "–": "-",
        "º": "°", "˚": "°", "∘": "°",
        "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "ʹ": "'",
        "″": '"', "”": '"', "“": '"', "ʺ": '"',
    }
)  # fmt: skip

_PART = r"[0-9]{1,3}(?:\.[0-9]*)?"
_SEPARATED = re.compile(
    rf"(?P<degrees>{_PART})"
    rf"(?:(?:\s*[°:]\s*|\s+|-)(?P<minutes>{_PART})"
    rf"(?:(?:\s*[':]\s*|\s+|-)(?P<seconds>{_PART}))?)?"
    r"\s*(?P<mark>[°'\"]?)"
)
_CLOSING_MARKS = {1: ("", "°"), 2: ("", "'"), 3: ("", '"')}
_COMPACT_LATITUDE = re.compile(r"(?P<degrees>[0-9]{2})(?P<minutes>[0-9]{2})(?P<seconds>[0-9]{2})?(?P<fraction>\.[0-9]+)?")
_COMPACT_LONGITUDE = re.compile(r"(?P<degrees>[0-9]{3})(?P<minutes>[0-9]{2})(?P<seconds>[0-9]{2})?(?P<fraction>\.[0-9]+)?")
_EXAMPLE = {"latitude": "50°03.2'N, N50 03 12, 500312N or 50.0533", "longitude": "005°15.0'W, W005 15 00, 0051500W or -5.25"}


def parse_number(text: str) -> float:
    """Read a plain decimal number: digits, at most one point, a sign. No exponent, no comma, no blank, no "nan"."""
    plain = text.strip().translate(_SAME_SIGN)
    if len(plain) > _LONGEST_NUMBER or not _NUMBER.fullmatch(plain):
        raise InputProblem(
            f"{_shown(text)} is not a plain number. Use the digits 0 to 9, a sign and a decimal point, like -12.5.",
            code="number-bad",
            place="number",
        )
    return float(plain)


def parse_latitude(text: str) -> float:
    """Read a latitude in degrees, minutes and seconds, degrees and minutes, or degrees; north positive. [deg]"""
    return _angle(text, name="latitude", letters="NS", limit_deg=90.0)


def parse_longitude(text: str) -> float:
    """Read a longitude like ``parse_latitude``; east positive, 180 folded to -180. [deg]"""
    return Position(lat_deg=0.0, lon_deg=_angle(text, name="longitude", letters="EW", limit_deg=180.0)).lon_deg


def parse_position(text: str) -> Position:
    """Read latitude and longitude written one after the other, by any of the forms of ``parse_latitude``.

    With letters (N S E W) either may come first; without letters the latitude does. A comma, semicolon, slash or blank stands between them;
    a bare blank only between two angles written alike, because it also stands inside each.

    Raises
    ------
    InputProblem
        It cannot be read, or can be read in more than one way.
    """
    if len(text) > _LONGEST_POSITION:
        raise InputProblem("That is too long for one position.", code="position-bad", place="position")
    readings = {}
    for left, right, clear in _halves(text.strip()):
        alike = _count_numbers(left) == _count_numbers(right)
        position = _read_halves(left, right) if clear or alike else None
        if position is not None:
            readings[(position.lat_deg, position.lon_deg)] = (position, alike)
    if len(readings) > 1:
        readings = {key: reading for key, reading in readings.items() if reading[1]}
    if len(readings) != 1:
        raise InputProblem(
            f"{_shown(text)} cannot be read as one position. Write latitude, then longitude, like 50°03.2'N 005°15.0'W or 50.0533, -5.25.",
            code="position-bad",
            place="position",
        )
    return next(iter(readings.values()))[0]


def format_dm(position: Position) -> str:
    """Write a position in degrees and minutes to 0.01 minute (about 20 m): 50°03.20'N 005°15.00'W."""
    return f"{_dm(position.lat_deg, 2, 'NS')} {_dm(position.lon_deg, 3, 'EW')}"


def _dm(angle_deg: float, width: int, letters: str) -> str:
    hundredths = math.floor(abs(angle_deg) * 6000.0 + 0.5)
    degrees, rest = divmod(hundredths, 6000)
    letter = letters[1] if angle_deg < 0.0 and hundredths else letters[0]
    return f"{degrees:0{width}d}°{rest / 100.0:05.2f}'{letter}"


def _angle(text: str, *, name: str, letters: str, limit_deg: float) -> float:
    plain = text.strip().translate(_SAME_SIGN).replace("''", '"')
    if len(plain) > _LONGEST_POSITION:
        raise _bad(text, name)
    sign, letter, body = _sign_and_letter(plain, text, name, letters)
    degrees, minutes, seconds = _parts(body, letter, text, name)
    if minutes >= 60.0 or seconds >= 60.0:
        raise InputProblem(f"{_shown(text)}: minutes and seconds of a {name} run from 0 to less than 60.", code="sixty", place=name)
    value_deg = degrees + minutes / 60.0 + seconds / 3600.0
    if value_deg > limit_deg:
        raise InputProblem(f"{_shown(text)}: a {name} runs from 0 to {limit_deg:.0f} degrees.", code=f"{name}-out-of-range", place=name)
    return sign * value_deg


def _sign_and_letter(plain: str, text: str, name: str, letters: str) -> tuple[float, str, str]:
    """Split off the sign or the letter; -0 keeps its sign because the sign is not part of the number."""
    found = re.fullmatch(r"(?P<before>[A-Za-z]?)\s*(?P<sign>[+-]?)\s*(?P<body>[^A-Za-z+-](?:.*[^A-Za-z\s])?)\s*(?P<after>[A-Za-z]?)", plain)
    if found is None:
        raise _bad(text, name)
    letter = (found["before"] + found["after"]).upper()
    if len(letter) > 1 or (letter and found["sign"]):
        raise InputProblem(f"{_shown(text)} tells its direction twice. Use one letter or one sign.", code=f"{name}-bad", place=name)
    if letter and letter not in letters:
        if letter in "NSEW":
            raise InputProblem(f"{_shown(text)} has the letter {letter}: that is not a {name}.", code=f"{name}-letter", place=name)
        raise _bad(text, name)
    negative = found["sign"] == "-" or letter in ("S", "W")
    return (-1.0 if negative else 1.0), letter, found["body"]


def _parts(body: str, letter: str, text: str, name: str) -> tuple[float, float, float]:
    """Return degrees, minutes and seconds of an unsigned angle."""
    body = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", body)
    compact = (_COMPACT_LATITUDE if name == "latitude" else _COMPACT_LONGITUDE).fullmatch(body) if letter else None
    if compact:
        last = compact["fraction"] or ""
        if compact["seconds"] is None:
            return float(compact["degrees"]), float(compact["minutes"] + last), 0.0
        return float(compact["degrees"]), float(compact["minutes"]), float(compact["seconds"] + last)
    separated = _SEPARATED.fullmatch(body)
    if separated is None:
        raise _bad(text, name)
    given = [part for part in (separated["degrees"], separated["minutes"], separated["seconds"]) if part is not None]
    if separated["mark"] not in _CLOSING_MARKS[len(given)] or any("." in part for part in given[:-1]):
        raise _bad(text, name)
    values = [float(part) for part in given] + [0.0, 0.0]
    return values[0], values[1], values[2]


def _halves(text: str) -> list[tuple[str, str, bool]]:
    """Return every way to cut the text in two, and whether the cut is clear: a comma, semicolon, slash or letter, not just a blank."""
    cuts = re.finditer(r"\s*[,;/]\s*|\s+|(?<=[NSEWnsew])(?=[0-9])|(?<=[0-9'\"°])(?=[NSEWnsew])", text)
    lettered = re.search("[NSEWnsew]", text) is not None
    return [
        (text[: cut.start()], text[cut.end() :], lettered or not cut[0].isspace()) for cut in cuts if cut.start() and cut.end() < len(text)
    ]


def _read_halves(left: str, right: str) -> Position | None:
    if re.search("[EWew]", left) and re.search("[NSns]", right):
        left, right = right, left
    if bool(re.search("[A-Za-z]", left)) != bool(re.search("[A-Za-z]", right)):
        return None
    try:
        return Position(lat_deg=parse_latitude(left), lon_deg=parse_longitude(right))
    except InputProblem:
        return None


def _count_numbers(text: str) -> int:
    return len(re.findall(r"[0-9]+(?:[.,][0-9]+)?", text))


def _bad(text: str, name: str) -> InputProblem:
    return InputProblem(f"{_shown(text)} cannot be read as a {name}. Write it like {_EXAMPLE[name]}.", code=f"{name}-bad", place=name)


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:40] + "…")
