"""A route as a few lines of text without a date, that can be kept, sent, and typed in again."""

from __future__ import annotations

from server.navigation import PointKind, Position
from server.planning.log import LogPoint, NavigationLog
from server.sheets import words
from server.sheets.figures import rounded


def route_as_text(log: NavigationLog) -> str:
    """Write the route, one word or position a line between the idents of its ends: "ILV", "ALD-045@12.0", "43 10.500N 036 20.200W"."""
    lines = [f"ROUTE {words.plain_line(log.route.name)}".rstrip()]
    lines += [_word(point) for point in log.points]
    return "\n".join(lines) + "\n"


def _word(point: LogPoint) -> str:
    if point.number == 0 or point.kind is PointKind.AIRFIELD:
        return f"FIELD {words.plain_line(point.ident)} {position_words(point.position)}"
    if point.kind is PointKind.BEACON and point.beacon is not None:
        return f"BEACON {words.plain_line(point.ident)}:{point.beacon.kind.value} {position_words(point.position)}"
    name = words.plain_line(point.name)
    return f"POINT {position_words(point.position)}{f' {name}' if name else ''}"


def position_words(position: Position) -> str:
    """Write a position to a thousandth of a minute (2 m): "43 10.500N 036 20.200W"."""
    return f"{_angle(position.lat_deg, 2, 'NS')} {_angle(position.lon_deg, 3, 'EW')}"


def _angle(degrees: float, width: int, letters: str) -> str:
    thousandths = int(rounded(abs(degrees) * 60_000.0))
    whole, rest = divmod(thousandths, 60_000)
    return f"{whole:0{width}d} {rest // 1000:02d}.{rest % 1000:03d}{letters[0] if degrees >= 0.0 else letters[1]}"
