"""The route of a log as GPX 1.1, an open standard: names, elevations in metres, how each point is made."""

from __future__ import annotations

from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from server.planning.log import LogPoint, NavigationLog
from server.sheets import cautions, words
from server.units import metres_from_feet

NAMESPACE = "http://www.topografix.com/GPX/1/1"


def log_as_gpx(log: NavigationLog) -> bytes:
    """Write the route as GPX 1.1. Elevations are those of the ground where it is known, metres above sea level."""
    ElementTree.register_namespace("", NAMESPACE)
    root = Element(_tag("gpx"), version="1.1", creator="Beaconry")
    title = words.plain_line(log.route.name) or "Route"
    about = cautions.in_one_line(fictional=log.region_fictional, notice=words.plain_line(log.region_notice))
    metadata = SubElement(root, _tag("metadata"))
    SubElement(metadata, _tag("name")).text = title
    SubElement(metadata, _tag("desc")).text = about
    route = SubElement(root, _tag("rte"))
    SubElement(route, _tag("name")).text = title
    for point in log.points:
        _add_point(route, point)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n"


def _add_point(route: Element, point: LogPoint) -> None:
    at = {"lat": f"{point.position.lat_deg:.7f}", "lon": f"{point.position.lon_deg:.7f}"}
    element = SubElement(route, _tag("rtept"), at)
    if point.elevation_ft is not None:
        SubElement(element, _tag("ele")).text = f"{metres_from_feet(point.elevation_ft):.1f}"
    ident, name = words.plain_line(point.ident), words.plain_line(point.name)
    SubElement(element, _tag("name")).text = ident or name or f"Point {point.number}"
    told = words.plain_line(point.definition) or (name if ident else "")
    if told:
        SubElement(element, _tag("desc")).text = told
    SubElement(element, _tag("type")).text = point.beacon.kind.value if point.beacon is not None else point.kind.value


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"
