"""The form of a route and the flight on it, and the small forms that add one point: from typed text to values, and back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from server.navigation import Aircraft, Airfield, Checkpoint, FuelUnit, NorthReference, PointKind, Route, RoutePoint, WindLayer
from server.planning import RESERVE_RULES
from server.planning.route_shelf import Choices
from server.radio import Beacon
from server.sheets import figures
from server.web.forms import FormReader, FormText, number_text
from server.web.place_forms import amount, litres

Thing = TypeVar("Thing", Airfield, Beacon, Checkpoint, Aircraft)

BLANK_ROUTE = FormText(fields={"fuel_unit": FuelUnit.LITRE.value})


def airfield_label(airfield: Airfield) -> str:
    """How an airfield stands in a list to choose from; the number in brackets tells two of one ident apart."""
    return f"{airfield.ident} {airfield.name} ({airfield.id})"


def beacon_label(beacon: Beacon) -> str:
    """How a beacon stands in a list to choose from: kind and frequency tell two of one ident apart."""
    return f"{beacon.ident} {beacon.kind} {figures.frequency(beacon)} {beacon.name} ({beacon.id})"


def checkpoint_label(checkpoint: Checkpoint) -> str:
    """How a checkpoint stands in a list to choose from."""
    return f"{checkpoint.name}, {checkpoint.feature} ({checkpoint.id})"


def aircraft_label(aircraft: Aircraft) -> str:
    """How an aircraft stands in a list to choose from."""
    return f"{aircraft.registration} {aircraft.type_name} ({aircraft.id})"


def pick(
    reader: FormReader, place: str, label: str, things: Sequence[Thing], label_of: Callable[[Thing], str], *, required: bool = False
) -> Thing | None:
    """Read a thing chosen by its label, or typed by its ident or name where that means one thing only."""
    text = reader.form.text(place).strip()
    if not text:
        if required:
            reader.refuse(place, f"{label}: please choose one.")
        return None
    chosen = [thing for thing in things if label_of(thing) == text]
    chosen = chosen or [thing for thing in things if text.casefold() in _names(thing)]
    if len(chosen) == 1:
        return chosen[0]
    if chosen:
        listed = "; ".join(label_of(thing) for thing in chosen[:5])
        reader.refuse(place, f'{label}: {len(chosen)} go by the name "{text[:40]}". Write one of them in full: {listed}.')
    else:
        reader.refuse(place, f'{label}: "{text[:40]}" is not in this region. Choose one from the list, or type its ident.')
    return None


def _names(thing: Airfield | Beacon | Checkpoint | Aircraft) -> tuple[str, ...]:
    names = (getattr(thing, field, "") for field in ("ident", "name", "registration"))
    return tuple(name.casefold() for name in names if name)


def read_route(form: FormText, choices: Choices, present: Route | None = None) -> Route:
    """Read a route out of its form; ``present`` is what it changes. Raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    departure = pick(reader, "departure", "Departure", choices.airfields, airfield_label, required=True)
    destination = pick(reader, "destination", "Destination", choices.airfields, airfield_label, required=True)
    aircraft = pick(reader, "aircraft", "Aircraft", choices.aircraft, aircraft_label)
    for place, airfield in (("departure", departure), ("destination", destination)):
        if airfield is not None and airfield.closed:
            reader.refuse(place, f"{airfield.ident} {airfield.name} is closed. Choose another airfield.")
    name = reader.text("name", "Name", longest=80)
    route = Route(
        id=present.id if present else None,
        region_id=choices.region.id or 0,
        name=name or (f"{departure.ident} to {destination.ident}" if departure and destination else ""),
        departure_airfield_id=departure.id or 0 if departure else 0,
        destination_airfield_id=destination.id or 0 if destination else 0,
        points=present.points if present else (),
        altitude_ft=reader.required_number("altitude_ft", "Cruising altitude", unit="ft MSL", lowest=-1_000, highest=45_000),
        departure_utc=reader.moment_utc("day", "clock", "Off blocks"),
        aircraft_id=aircraft.id if aircraft else None,
        winds=_winds(reader),
        isa_deviation_c=reader.number("isa_deviation_c", "Temperature against ISA", unit="degrees C", lowest=-60, highest=60),
        fuel_on_board_l=_fuel(reader),
        reserve_rule=_reserve_rule(reader),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
        version=reader.whole_number("version", "Version", lowest=1, highest=2_000_000_000) or 1,
    )
    reader.finish()
    return route


def _fuel(reader: FormReader) -> float | None:
    unit = reader.required_choice("fuel_unit", "Fuel is given in", FuelUnit)
    given = reader.number("fuel_on_board", "Usable fuel on board", unit=unit.value, lowest=0, highest=5_000)
    return None if given is None else litres(given, unit)


def _reserve_rule(reader: FormReader) -> str:
    key = reader.form.text("reserve_rule")
    if key and key not in [rule.key for rule in RESERVE_RULES]:
        reader.refuse("reserve_rule", "Reserve: please choose one of the rules in the list.")
    return key


def _winds(reader: FormReader) -> tuple[WindLayer, ...]:
    winds = []
    for row in reader.form.rows("winds", spare=0):
        prefix, label = f"winds.{row}.", f"Wind row {row + 1}"
        if not any(reader.form.text(prefix + name).strip() for name in ("altitude_ft", "from", "reference", "speed_kt")):
            continue
        speed_kt = reader.required_number(f"{prefix}speed_kt", f"{label}, speed", unit="kt", lowest=0, highest=250)
        calm = speed_kt == 0 and not reader.form.text(f"{prefix}from").strip()
        winds.append(
            WindLayer(
                altitude_ft=reader.required_number(
                    f"{prefix}altitude_ft", f"{label}, altitude", unit="ft MSL", lowest=-1_500, highest=60_000
                ),
                from_deg=0.0 if calm else reader.required_number(f"{prefix}from", f"{label}, from", unit="degrees", lowest=0, highest=360),
                speed_kt=speed_kt,
                reference=NorthReference.TRUE
                if calm
                else reader.required_choice(f"{prefix}reference", f"{label}, counted from true (T) or magnetic (M) north", NorthReference),
            )
        )
    altitudes = [wind.altitude_ft for wind in winds]
    if len(set(altitudes)) < len(altitudes):
        reader.refuse("winds.0.altitude_ft", "Winds: two rows are at the same altitude. Keep one of them.")
    return tuple(winds)


def route_form(route: Route, choices: Choices) -> FormText:
    """Write a route into its form."""
    airfields = {airfield.id: airfield_label(airfield) for airfield in choices.airfields}
    aircraft = next((one for one in choices.aircraft if one.id == route.aircraft_id), None)
    unit = aircraft.fuel_unit if aircraft else FuelUnit.LITRE
    fields = {
        "name": route.name,
        "departure": airfields.get(route.departure_airfield_id, ""),
        "destination": airfields.get(route.destination_airfield_id, ""),
        "day": f"{route.departure_utc:%Y-%m-%d}" if route.departure_utc else "",
        "clock": f"{route.departure_utc:%H:%M}" if route.departure_utc else "",
        "altitude_ft": number_text(route.altitude_ft),
        "aircraft": aircraft_label(aircraft) if aircraft else "",
        "isa_deviation_c": number_text(route.isa_deviation_c),
        "fuel_on_board": number_text(amount(route.fuel_on_board_l, unit)),
        "fuel_unit": unit.value,
        "reserve_rule": route.reserve_rule,
        "remarks": route.remarks,
        "version": str(route.version),
    }
    for row, wind in enumerate(route.winds):
        fields |= {
            f"winds.{row}.altitude_ft": number_text(wind.altitude_ft),
            f"winds.{row}.from": number_text(wind.from_deg),
            f"winds.{row}.speed_kt": number_text(wind.speed_kt),
            f"winds.{row}.reference": wind.reference.value,
        }
    return FormText(fields=fields)


def read_point(form: FormText, choices: Choices) -> tuple[RoutePoint, int]:
    """Read one point and the position it goes behind, from whichever of the small forms was sent."""
    reader = FormReader(form)
    after = reader.whole_number("after", "Put it behind point", lowest=0, highest=1_000, required=True) or 0
    kind = reader.required_choice("point_kind", "What kind of point", PointKind)
    point = replace(_POINT_READERS[kind](reader, choices), name=reader.text("point_name", "Name of the point", longest=60))
    reader.finish()
    return point, after


def _airfield_point(reader: FormReader, choices: Choices) -> RoutePoint:
    airfield = pick(reader, "airfield", "Airfield", choices.airfields, airfield_label, required=True)
    return RoutePoint(kind=PointKind.AIRFIELD, place_id=airfield.id if airfield else None)


def _beacon_point(reader: FormReader, choices: Choices) -> RoutePoint:
    beacon = pick(reader, "beacon", "Beacon", choices.beacons, beacon_label, required=True)
    return RoutePoint(kind=PointKind.BEACON, place_id=beacon.id if beacon else None)


def _checkpoint_point(reader: FormReader, choices: Choices) -> RoutePoint:
    checkpoint = pick(reader, "checkpoint", "Checkpoint", choices.checkpoints, checkpoint_label, required=True)
    return RoutePoint(kind=PointKind.CHECKPOINT, place_id=checkpoint.id if checkpoint else None)


def _position_point(reader: FormReader, _choices: Choices) -> RoutePoint:
    return RoutePoint(kind=PointKind.POSITION, position=reader.required_position("point_", "Position"))


def _radial_distance_point(reader: FormReader, choices: Choices) -> RoutePoint:
    beacon = pick(reader, "rd_beacon", "Beacon", choices.beacons, beacon_label, required=True)
    return RoutePoint(
        kind=PointKind.RADIAL_DISTANCE,
        beacon_id=beacon.id if beacon else None,
        radial_deg=reader.required_number("rd_radial", "Radial", unit="degrees", lowest=0, highest=360) % 360.0,
        distance_nm=reader.required_number("rd_distance", "Distance", unit="NM", lowest=0.1, highest=200),
    )


def _two_radials_point(reader: FormReader, choices: Choices) -> RoutePoint:
    first = pick(reader, "first_beacon", "First beacon", choices.beacons, beacon_label, required=True)
    second = pick(reader, "second_beacon", "Second beacon", choices.beacons, beacon_label, required=True)
    if first is not None and second is not None and first.id == second.id:
        reader.refuse("second_beacon", "Second beacon: two radials of one station meet only overhead. Choose another station.")
    return RoutePoint(
        kind=PointKind.TWO_RADIALS,
        beacon_id=first.id if first else None,
        radial_deg=reader.required_number("first_radial", "First radial", unit="degrees", lowest=0, highest=360) % 360.0,
        second_beacon_id=second.id if second else None,
        second_radial_deg=reader.required_number("second_radial", "Second radial", unit="degrees", lowest=0, highest=360) % 360.0,
    )


_POINT_READERS: dict[PointKind, Callable[[FormReader, Choices], RoutePoint]] = {
    PointKind.AIRFIELD: _airfield_point,
    PointKind.BEACON: _beacon_point,
    PointKind.CHECKPOINT: _checkpoint_point,
    PointKind.POSITION: _position_point,
    PointKind.RADIAL_DISTANCE: _radial_distance_point,
    PointKind.TWO_RADIALS: _two_radials_point,
}
