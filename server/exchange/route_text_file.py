"""Read a route written by server/sheets/route_text.py, or typed in the same way: a line for each point, each with its position."""

from __future__ import annotations

import re

from server.errors import InputProblem
from server.exchange.route_shape import RouteShape, ShapePoint, ShapeSource, check_size, shape_of, unusable
from server.navigation import parse_position

_LINE = re.compile(
    r"(?P<kind>FIELD|BEACON|POINT)\s+(?P<ident>[^\s]+\s+)?(?P<position>[0-9]{1,2} [0-9.]+[NS] [0-9]{1,3} [0-9.]+[EW])(?P<name>\s.*)?"
)


def read_route_text(content: bytes, *, name: str) -> RouteShape:
    """Return the route of a text, or raise InputProblem that names the line that cannot be read."""
    check_size(content, file_name=name)
    try:
        lines = content.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise unusable(name, "it is no text in UTF-8") from None
    title, points = "", []
    for number, line in enumerate(lines, start=1):
        told = line.strip()
        if not told:
            continue
        if told.startswith("ROUTE"):
            title = told[5:].strip()[:80]
            continue
        match = _LINE.fullmatch(told)
        if match is None:
            raise unusable(
                name,
                f'line {number}, "{told[:40]}", is none of ROUTE, FIELD, BEACON and POINT with a position such as 43 10.500N 036 20.200W',
            )
        try:
            position = parse_position(match["position"])
        except InputProblem as problem:
            raise unusable(name, f"line {number}: {problem.message}") from problem
        ident = (match["ident"] or "").strip().partition(":")[0]
        points.append(ShapePoint(name=ident or (match["name"] or "").strip()[:80], position=position))
    return shape_of(title, ShapeSource.ROUTE, points, file_name=name)
