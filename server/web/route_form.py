"""The form of a route and the flight on it: from typed text to values, and back."""

from __future__ import annotations

import re
from enum import StrEnum

from server.errors import InputProblem, Problem, ProjectError
from server.navigation import AS_PLANNED, Aircraft, FuelMeasure, FuelUnit, NorthReference, Route, WindLayer, cruise_powers, winds_from_text
from server.planning import HIGHEST_PLANNED_FT, RESERVE_RULES
from server.planning.flight_request import qnh_from_words
from server.planning.route_shelf import Choices
from server.web.forms import FormReader, FormText, number_text, short_number_text
from server.web.picking import aircraft_label, airfield_label, labels, pick

BLANK_ROUTE = FormText(fields={"fuel_unit": FuelUnit.LITRE.value})

LOWEST_PLANNED_FT = -1_500.0

_WIND_FIELD = re.compile(r"winds\.[0-9]{1,2}\.[a-z_]+", re.ASCII)

FIELD_WORDS = {
    "name": "Name of the route",
    "departure": "Departure",
    "destination": "Destination",
    "altitude_ft": "Cruising altitude",
    "day": "Day of take-off",
    "clock": "Time of take-off",
    "aircraft": "Aircraft",
    "fuel_on_board": "Usable fuel on board",
    "fuel_unit": "Fuel is given in",
    "reserve_rule": "Fuel reserve",
    "isa_deviation_c": "Temperature against ISA",
    "remarks": "Remarks",
    "qnh": "QNH",
    "cruise_power": "Power in cruise",
    "alternate": "Alternate",
    "extra_fuel": "Extra fuel",
    "level_rule": "Rule for levels",
    "corridor_nm": "Corridor",
    "winds_source": "Where the winds are from",
    "winds_from_day": "Day from which the winds hold",
    "winds_from_clock": "Time from which the winds hold",
    "winds_to_day": "Day to which the winds hold",
    "winds_to_clock": "Time to which the winds hold",
    "winds_coded": "Winds as text",
}
WIND_WORDS = {
    "altitude_ft": "altitude",
    "from": "from",
    "reference": "true or magnetic",
    "speed_kt": "speed",
    "temperature_c": "temperature",
}


class RuleChoice(StrEnum):
    US = "US"
    ICAO = "ICAO"


def field_words(place: str) -> str:
    """What a field of this form is called on the page."""
    if place.startswith("winds."):
        _table, row, name = place.split(".")
        return f"Wind row {int(row) + 1}, {WIND_WORDS[name]}"
    return FIELD_WORDS[place]


def refused_route(form: FormText, refusal: ProjectError, present: FormText) -> FormText:
    """The form with what was refused. Where the route was changed meanwhile, every field that differs from ``present`` is named, and
    the form is brought up to the version of ``present``, so that sending it again is a choice made with open eyes."""
    told = form.with_problems(refusal)
    if refusal.code != "stale-version":
        return told
    places = [place for place in dict.fromkeys((*present.fields, *form.fields)) if place in FIELD_WORDS or _WIND_FIELD.fullmatch(place)]
    differing = (
        Problem(place=place, message=f"{field_words(place)}: it is {_quoted(place, present)} there now.")
        for place in places
        if present.text(place).strip() != form.text(place).strip()
    )
    again = Problem(place="", message="What you typed is still below. Saving it again puts it in the place of what is there now.")
    fields = {**form.fields, "version": present.text("version")}
    return FormText(fields=fields, problems=(*told.problems, *differing, again))


def _quoted(place: str, form: FormText) -> str:
    text = form.text(place)
    if place == "reserve_rule":
        text = next((rule.name for rule in RESERVE_RULES if rule.key == text), text)
    return f'"{text}"' if text else "empty"


def read_route(form: FormText, choices: Choices, present: Route | None = None) -> Route:
    """Read a route out of its form; ``present`` is what it changes. Raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    departure = pick(reader, "departure", "Departure", choices.airfields, airfield_label, required=True)
    destination = pick(reader, "destination", "Destination", choices.airfields, airfield_label, required=True)
    aircraft = pick(reader, "aircraft", "Aircraft", choices.aircraft, aircraft_label)
    for place, airfield in (("departure", departure), ("destination", destination)):
        if airfield is not None and airfield.closed:
            reader.refuse(place, f"{airfield.ident} {airfield.name} is closed. Choose another airfield.")
    alternate = pick(reader, "alternate", "Alternate", choices.airfields, airfield_label)
    name = reader.text("name", "Name", longest=80)
    route = Route(
        id=present.id if present else None,
        region_id=choices.region.id or 0,
        name=name or (f"{departure.ident} to {destination.ident}" if departure and destination else ""),
        departure_airfield_id=departure.id or 0 if departure else 0,
        destination_airfield_id=destination.id or 0 if destination else 0,
        points=present.points if present else (),
        altitude_ft=reader.required_number(
            "altitude_ft", "Cruising altitude", unit="ft MSL", lowest=LOWEST_PLANNED_FT, highest=HIGHEST_PLANNED_FT
        ),
        departure_utc=reader.moment_utc("day", "clock", "Take-off"),
        aircraft_id=aircraft.id if aircraft else None,
        winds=_winds(reader),
        isa_deviation_c=reader.number("isa_deviation_c", "Temperature against ISA", unit="degrees C", lowest=-60, highest=60),
        fuel_on_board_l=_fuel(reader, aircraft, "fuel_on_board", "Usable fuel on board"),
        extra_fuel_l=_fuel(reader, aircraft, "extra_fuel", "Extra fuel"),
        reserve_rule=_reserve_rule(reader),
        onward=present.onward if present else AS_PLANNED,
        qnh_hpa=_qnh_hpa(reader),
        cruise_power=_power(reader, aircraft),
        alternate_airfield_id=alternate.id if alternate else None,
        level_rule=reader.choice("level_rule", "Rule for levels", RuleChoice) or "",
        corridor_nm=reader.number("corridor_nm", "Corridor", unit="NM", lowest=0, highest=20),
        winds_source=reader.text("winds_source", "Where the winds are from", longest=120),
        winds_from_utc=reader.moment_utc("winds_from_day", "winds_from_clock", "Winds hold from"),
        winds_to_utc=reader.moment_utc("winds_to_day", "winds_to_clock", "Winds hold to"),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
        version=reader.whole_number("version", "Version", lowest=1, highest=2_000_000_000) or 1,
    )
    if route.winds_from_utc is not None and route.winds_to_utc is not None and route.winds_to_utc <= route.winds_from_utc:
        reader.refuse("winds_to_day", "Winds hold to: this is not later than when they begin to hold. Correct one of the two.")
    reader.finish()
    return route


def _fuel(reader: FormReader, aircraft: Aircraft | None, place: str, label: str) -> float | None:
    unit = reader.required_choice("fuel_unit", "Fuel is given in", FuelUnit)
    given = reader.number(place, label, unit=unit.value, lowest=0, highest=5_000)
    density_kg_per_l = aircraft.fuel_density_kg_per_l if aircraft is not None else None
    if unit is FuelUnit.KILOGRAM and density_kg_per_l is None:
        if place == "fuel_on_board":
            reader.refuse("fuel_unit", "Fuel in kilograms needs an aircraft whose fuel density is kept. Choose one, or write a volume.")
        return None
    return None if given is None else FuelMeasure(unit=unit, density_kg_per_l=density_kg_per_l).litres(given)


def _qnh_hpa(reader: FormReader) -> float | None:
    """Read QNH in hPa, or in inches of mercury where the number can only be that."""
    text = reader.text("qnh", "QNH", longest=12)
    if not text:
        return None
    try:
        return qnh_from_words(text)
    except InputProblem as problem:
        reader.refuse("qnh", f"QNH: {problem.message}")
        return None


def _power(reader: FormReader, aircraft: Aircraft | None) -> str:
    power = reader.text("cruise_power", "Power in cruise", longest=40)
    powers = cruise_powers(aircraft) if aircraft is not None else ()
    if power and power not in powers:
        known = f"It has {', '.join(powers)}." if powers else "It has no cruise table, so leave this empty."
        reader.refuse("cruise_power", f'Power in cruise: the table of the aircraft has no "{power}". {known}')
    return power


def _reserve_rule(reader: FormReader) -> str:
    key = reader.form.text("reserve_rule")
    if key and key not in [rule.key for rule in RESERVE_RULES]:
        reader.refuse("reserve_rule", "Reserve: please choose one of the rules in the list.")
    return key


WIND_FIELDS = ("altitude_ft", "from", "reference", "speed_kt", "temperature_c")


def _coded_winds(reader: FormReader) -> tuple[WindLayer, ...]:
    """Winds that were pasted as text stand beside those of the rows."""
    text = reader.text("winds_coded", "Winds as text", longest=2_000)
    if not text:
        return ()
    try:
        return winds_from_text(reader.form.text("winds_coded"))
    except InputProblem as problem:
        reader.refuse("winds_coded", f"Winds as text: {problem.message}")
        return ()


def _winds(reader: FormReader) -> tuple[WindLayer, ...]:
    winds = list(_coded_winds(reader))
    for row in reader.form.rows("winds", spare=0):
        prefix, label = f"winds.{row}.", f"Wind row {row + 1}"
        if not any(reader.form.text(prefix + name).strip() for name in WIND_FIELDS):
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
                temperature_c=reader.number(f"{prefix}temperature_c", f"{label}, temperature", unit="degrees C", lowest=-90, highest=60),
            )
        )
    altitudes = [wind.altitude_ft for wind in winds]
    if len(set(altitudes)) < len(altitudes):
        reader.refuse("winds.0.altitude_ft", "Winds: two rows are at the same altitude. Keep one of them.")
    return tuple(winds)


def route_form(route: Route, choices: Choices) -> FormText:
    """Write a route into its form."""
    airfields, fleet = labels(choices.airfields, airfield_label), labels(choices.aircraft, aircraft_label)
    aircraft = next((one for one in choices.aircraft if one.id == route.aircraft_id), None)
    measure = aircraft.fuel_measure if aircraft else FuelMeasure()
    fields = {
        "name": route.name,
        "departure": airfields.get(route.departure_airfield_id, ""),
        "destination": airfields.get(route.destination_airfield_id, ""),
        "day": f"{route.departure_utc:%Y-%m-%d}" if route.departure_utc else "",
        "clock": f"{route.departure_utc:%H:%M}" if route.departure_utc else "",
        "altitude_ft": number_text(route.altitude_ft),
        "aircraft": fleet.get(route.aircraft_id, ""),
        "isa_deviation_c": number_text(route.isa_deviation_c),
        "fuel_on_board": "" if route.fuel_on_board_l is None else short_number_text(measure.amount(route.fuel_on_board_l)),
        "fuel_unit": measure.unit.value,
        "reserve_rule": route.reserve_rule,
        "remarks": route.remarks,
        "qnh": "" if route.qnh_hpa is None else short_number_text(route.qnh_hpa),
        "cruise_power": route.cruise_power,
        "alternate": airfields.get(route.alternate_airfield_id, ""),
        "extra_fuel": "" if route.extra_fuel_l is None else short_number_text(measure.amount(route.extra_fuel_l)),
        "level_rule": route.level_rule,
        "corridor_nm": number_text(route.corridor_nm),
        "winds_source": route.winds_source,
        "winds_from_day": f"{route.winds_from_utc:%Y-%m-%d}" if route.winds_from_utc else "",
        "winds_from_clock": f"{route.winds_from_utc:%H:%M}" if route.winds_from_utc else "",
        "winds_to_day": f"{route.winds_to_utc:%Y-%m-%d}" if route.winds_to_utc else "",
        "winds_to_clock": f"{route.winds_to_utc:%H:%M}" if route.winds_to_utc else "",
        "version": str(route.version),
    }
    for row, wind in enumerate(route.winds):
        fields |= {
            f"winds.{row}.altitude_ft": number_text(wind.altitude_ft),
            f"winds.{row}.from": number_text(wind.from_deg),
            f"winds.{row}.speed_kt": number_text(wind.speed_kt),
            f"winds.{row}.reference": wind.reference.value,
            f"winds.{row}.temperature_c": number_text(wind.temperature_c),
        }
    return FormText(fields=fields)
