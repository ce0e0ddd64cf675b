"""Read routes.toml, the routes that come with a region. All problems of the file are reported at once.

[[route]]
name = "..."
departure = "QAAA"                   idents of airfields of the region
destination = "QBBB"
altitude_ft = 7500                   this and what follows may be left out
departure_utc = 2026-06-16T13:00:00Z
aircraft = "..."                     a registration
isa_deviation_c = 2
fuel_on_board_l = 120
reserve_rule = "icao-day"            a key of the reserve rules
remarks = "..."
qnh_hpa = 1013
cruise_power = "65 %"                a power of the aircraft's cruise table
alternate = "QDDD"
extra_fuel_l = 10
level_rule = "US"                    or "ICAO"; that of the region without it
corridor_nm = 4
winds_source = "..."
winds_from_utc = 2026-06-16T12:00:00Z
winds_to_utc = 2026-06-16T18:00:00Z
changeover_nm = 20                   on the first leg, and why
changeover_reason = "..."
winds = [{altitude_ft = 5000, from_deg = 250, reference = "T", speed_kt = 16}]           reference: T or M; temperature_c too
points = [
    {beacon = "ABC"},                kind = "NDB" beside it where two beacons bear one ident
    {checkpoint = "..."},
    {airfield = "QCCC"},
    {name = "...", lat_deg = 43.5, lon_deg = -36.2},
    {name = "...", beacon = "ABC", radial_deg = 45, distance_nm = 12},
    {name = "...", beacon = "ABC", radial_deg = 45, second_beacon = "DEF", second_radial_deg = 310},
]
Where an ident or a name is borne by two, key = "..." tells them apart: the key of the row in its table; second_key for the second beacon,
departure_key, destination_key and alternate_key for those.
Each point may have altitude_ft, changeover_nm and changeover_reason for the leg onward from it.

The file names beacons, airfields and checkpoints as a person does; who loads it finds them in the region.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from server.errors import InputProblem, Problem
from server.exchange.region_files import LEVEL_RULES
from server.exchange.toml_fields import TomlFields, raise_problems, toml_table, toml_text
from server.navigation.position import Position
from server.navigation.route import AS_PLANNED, LegChoice, NorthReference, PointKind, WindLayer
from server.radio.beacon import BeaconKind

QNH_HPA = (850.0, 1100.0)
"""Altimeter settings that occur: the lowest and highest pressures measured at sea level are 870 and 1085 hPa (from memory)."""

_FIX_FIELDS = ("radial_deg", "distance_nm", "second_beacon", "second_radial_deg")
_POSITION_FIELDS = {"lat_deg", "lon_deg"}
LONGEST_KEY = 200


@dataclass(frozen=True, kw_only=True, slots=True)
class BeaconName:
    """A beacon by its ident, by its kind where that alone does not tell, and by the key of its row where both do not."""

    ident: str
    kind: BeaconKind | None = None
    key: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class PointDescription:
    """One point of a route. ``place`` is the ident of an airfield or the name of a checkpoint, ``place_key`` the key of its row where that
    does not tell; directions and distances as RoutePoint's."""

    kind: PointKind
    name: str = ""
    place: str = ""
    place_key: str = ""
    position: Position | None = None
    beacon: BeaconName | None = None
    radial_deg: float | None = None
    distance_nm: float | None = None
    second_beacon: BeaconName | None = None
    second_radial_deg: float | None = None
    onward: LegChoice = AS_PLANNED


@dataclass(frozen=True, kw_only=True, slots=True)
class RouteDescription:
    """A route as routes.toml tells it; the fields are those of Route, with idents and names in the place of numbers."""

    name: str
    departure: str
    destination: str
    points: tuple[PointDescription, ...]
    altitude_ft: float | None
    departure_utc: datetime | None
    aircraft: str
    winds: tuple[WindLayer, ...]
    isa_deviation_c: float | None
    fuel_on_board_l: float | None
    reserve_rule: str
    remarks: str
    onward: LegChoice = AS_PLANNED
    qnh_hpa: float | None = None
    cruise_power: str = ""
    alternate: str = ""
    extra_fuel_l: float | None = None
    level_rule: str = ""
    corridor_nm: float | None = None
    winds_source: str = ""
    winds_from_utc: datetime | None = None
    winds_to_utc: datetime | None = None
    departure_key: str = ""
    destination_key: str = ""
    alternate_key: str = ""


def read_routes(content: bytes, *, name: str) -> tuple[RouteDescription, ...]:
    """Read routes.toml, or raise InputProblem with everything that is wrong in it."""
    text = toml_text(content, name=name)
    entries = toml_table(text, name=name).get("route", None)
    if entries is None or not _are_tables(entries):
        raise InputProblem(f"{name} has no [[route]] entries.", code="region-file-unusable", place=name)
    found, problems = [], []
    for number, entry in enumerate(entries, 1):
        reader = _RouteReader(entry, text, name, number)
        found.append(reader.route())
        problems.extend(reader.problems)
    names = [route.name for route in found if route.name]
    for twice in sorted({route_name for route_name in names if names.count(route_name) > 1}):
        problems.append(Problem(place=name, message=f"{name}: the route {twice!r} stands there twice.", code="region-file-unusable"))
    raise_problems(problems, name)
    return tuple(found)


def _are_tables(entries) -> bool:
    return isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries)


class _RouteReader:
    """Reads one [[route]] with its winds and points, and collects what is wrong in any of them."""

    def __init__(self, entry: dict, text: str, name: str, number: int):
        self.problems: list[Problem] = []
        self._entry = entry
        self._text = text
        self._name = name
        self._of = f"route {number}, "

    def route(self) -> RouteDescription:
        fields = self._fields(self._entry)
        read = RouteDescription(
            name=fields.text("name", required=True, longest=120),
            departure=fields.text("departure", required=True, longest=10).upper(),
            destination=fields.text("destination", required=True, longest=10).upper(),
            points=tuple(self._point(entry, of) for entry, of in self._tables(fields, "points", "point")),
            altitude_ft=_optional(fields, "altitude_ft", -1_500.0, 60_000.0),
            departure_utc=fields.moment("departure_utc"),
            aircraft=fields.text("aircraft", longest=20),
            winds=tuple(self._wind(entry, of) for entry, of in self._tables(fields, "winds", "wind")),
            isa_deviation_c=_optional(fields, "isa_deviation_c", -80.0, 60.0),
            fuel_on_board_l=_optional(fields, "fuel_on_board_l", 0.0, 50_000.0),
            reserve_rule=fields.text("reserve_rule", longest=40),
            remarks=fields.text("remarks"),
            onward=_choice(fields, altitude=False),
            qnh_hpa=_optional(fields, "qnh_hpa", *QNH_HPA),
            cruise_power=fields.text("cruise_power", longest=40),
            alternate=fields.text("alternate", longest=10).upper(),
            extra_fuel_l=_optional(fields, "extra_fuel_l", 0.0, 50_000.0),
            level_rule=fields.text("level_rule", longest=10),
            corridor_nm=_optional(fields, "corridor_nm", 0.0, 20.0),
            winds_source=fields.text("winds_source"),
            winds_from_utc=fields.moment("winds_from_utc"),
            winds_to_utc=fields.moment("winds_to_utc"),
            **{end: fields.text(end, longest=LONGEST_KEY) for end in ("departure_key", "destination_key", "alternate_key")},
        )
        if read.level_rule not in ("", *LEVEL_RULES):
            fields.refuse("level_rule", f"can be {' or '.join(LEVEL_RULES)}")
        if read.winds_from_utc is not None and read.winds_to_utc is not None and read.winds_to_utc <= read.winds_from_utc:
            fields.refuse("winds_to_utc", "must be later than winds_from_utc")
        self.problems.extend(fields.problems)
        return read

    def _fields(self, table: dict, of: str = "") -> TomlFields:
        return TomlFields(table, self._text, self._name, of=self._of + of)

    def _tables(self, fields: TomlFields, field: str, word: str) -> list[tuple[dict, str]]:
        entries = fields.take(field, [])
        if not _are_tables(entries):
            fields.refuse(field, "must be a list of tables in curly brackets")
            return []
        return [(entry, f"{word} {number}, ") for number, entry in enumerate(entries, 1)]

    def _wind(self, entry: dict, of: str) -> WindLayer:
        fields = self._fields(entry, of)
        numbers = {
            "altitude_ft": fields.number("altitude_ft", -1_500.0, 60_000.0),
            "from_deg": fields.number("from_deg", 0.0, 360.0),
            "speed_kt": fields.number("speed_kt", 0.0, 300.0),
        }
        if "reference" not in entry:
            fields.refuse("reference", "is needed, T for true or M for magnetic")
        reference = fields.word("reference", NorthReference, NorthReference.TRUE)
        temperature_c = _optional(fields, "temperature_c", -90.0, 60.0)
        self.problems.extend(fields.problems)
        return WindLayer(
            reference=reference,
            temperature_c=temperature_c,
            **{field: number if number is not None else 0.0 for field, number in numbers.items()},
        )

    def _point(self, entry: dict, of: str) -> PointDescription:
        fields = self._fields(entry, of)
        kind = _point_kind(entry)
        if kind is None:
            fields.refuse(
                "points",
                "must name a beacon, a checkpoint or an airfield, make a fix of a radial and a distance or two radials, or give a position",
            )
            self.problems.extend(fields.problems)
            return PointDescription(kind=PointKind.POSITION)
        place = {PointKind.AIRFIELD: "airfield", PointKind.CHECKPOINT: "checkpoint"}.get(kind)
        two, one = kind is PointKind.TWO_RADIALS, kind is PointKind.RADIAL_DISTANCE
        read = PointDescription(
            kind=kind,
            name=fields.text("name", longest=120),
            place=fields.text(place, required=True, longest=200) if place else "",
            place_key=fields.text("key", longest=LONGEST_KEY) if place else "",
            position=_position(fields) if kind is PointKind.POSITION else None,
            beacon=None if place or kind is PointKind.POSITION else self._beacon(fields, ""),
            radial_deg=fields.number("radial_deg", 0.0, 360.0) if one or two else None,
            distance_nm=fields.number("distance_nm", 0.0, 300.0) if one else None,
            second_beacon=self._beacon(fields, "second_") if two else None,
            second_radial_deg=fields.number("second_radial_deg", 0.0, 360.0) if two else None,
            onward=_choice(fields),
        )
        self.problems.extend(fields.problems)
        return read

    def _beacon(self, fields: TomlFields, prefix: str) -> BeaconName:
        ident = fields.text(f"{prefix}beacon", required=True, longest=4).upper()
        kind = fields.word(f"{prefix}kind", BeaconKind, None) if fields.take(f"{prefix}kind", None) is not None else None
        return BeaconName(ident=ident, kind=kind, key=fields.text(f"{prefix}key", longest=LONGEST_KEY))


def _optional(fields: TomlFields, field: str, lowest: float, highest: float) -> float | None:
    return fields.number(field, lowest, highest) if fields.take(field, None) is not None else None


def _position(fields: TomlFields) -> Position | None:
    lat_deg, lon_deg = fields.number("lat_deg", -90.0, 90.0), fields.number("lon_deg", -180.0, 180.0)
    return None if lat_deg is None or lon_deg is None else Position(lat_deg=lat_deg, lon_deg=lon_deg)


def _choice(fields: TomlFields, *, altitude: bool = True) -> LegChoice:
    """What was chosen for the leg onward; the route's own altitude_ft is that of the first leg."""
    return LegChoice(
        altitude_ft=_optional(fields, "altitude_ft", -1_500.0, 60_000.0) if altitude else None,
        changeover_nm=_optional(fields, "changeover_nm", 0.0, 1_000.0),
        changeover_reason=fields.text("changeover_reason"),
    )


def _point_kind(entry: dict) -> PointKind | None:
    """Tell what kind of point an entry is by the fields it has; None where they do not fit together."""
    named = [field for field in ("airfield", "checkpoint", "beacon") if field in entry]
    made = {field for field in _FIX_FIELDS if field in entry}
    if not named and not made and entry.keys() >= _POSITION_FIELDS:
        return PointKind.POSITION
    if len(named) != 1 or entry.keys() & _POSITION_FIELDS:
        return None
    if not made:
        return PointKind(named[0])
    if named != ["beacon"]:
        return None
    if made == {"radial_deg", "distance_nm"}:
        return PointKind.RADIAL_DISTANCE
    return PointKind.TWO_RADIALS if made == {"radial_deg", "second_beacon", "second_radial_deg"} else None
