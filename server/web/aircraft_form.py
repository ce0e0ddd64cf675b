"""The form of an aircraft: from typed text to values, and back. Units are those of the owner's manual, one for speed and one for fuel."""

from __future__ import annotations

import re
from dataclasses import replace
from enum import StrEnum

from server.navigation import (
    Aircraft,
    CompassCardEntry,
    FuelMeasure,
    FuelUnit,
    SpeedKind,
    SpeedUnit,
    entry_from_correction,
    entry_from_deviation,
)
from server.web.forms import FormReader, FormText, number_text, short_number_text
from server.web.performance_columns import TableUnits, TemperatureColumn, warm_rule
from server.web.performance_text import (
    climb_text,
    cruise_text,
    read_climb_table,
    read_cruise_table,
    read_descent_table,
)


class CardColumn(StrEnum):
    """What stands under each heading of a compass card."""

    STEER = "steer"
    CORRECTION = "correction"
    DEVIATION = "deviation"


_LETTERED = re.compile(r"\s*([0-9.]+)\s*([EWew])\s*")
_DEVIATION_FIELD = re.compile(r"card\.[0-9]{1,2}\.steer")

BLANK_AIRCRAFT = FormText(
    fields={
        "descent_rate": "500",
        "speed_unit": SpeedUnit.KNOT.value,
        "cruise_temperature": TemperatureColumn.DEVIATION.value,
        "card_column": CardColumn.STEER.value,
    }
)


def read_aircraft(form: FormText, *, number: int | None = None) -> Aircraft:
    """Read an aircraft out of its form, or raise InputProblem with everything that is wrong."""
    reader = FormReader(_with_signs(form))
    units = _units(reader)
    percent, degrees_c = _warm_rule(reader)
    temperature = reader.choice("cruise_temperature", "Temperature column", TemperatureColumn) or TemperatureColumn.DEVIATION
    aircraft = Aircraft(
        id=number,
        registration=reader.text("registration", "Registration", longest=20, required=True),
        type_name=reader.text("type_name", "Type", longest=60),
        cruise_speed_kt=_speed_kt(reader, "cruise_speed", "Cruise speed", units),
        cruise_speed_kind=reader.required_choice("cruise_speed_kind", "Cruise speed is", SpeedKind),
        cruise_fuel_l_per_h=_fuel_l(reader, "cruise_fuel", "Cruise fuel flow", units, lowest=0.1),
        climb_speed_kt=_speed_kt(reader, "climb_speed", "Climb speed", units),
        climb_rate_ft_per_min=reader.required_number("climb_rate", "Rate of climb", unit="ft/min", lowest=50, highest=6_000),
        climb_fuel_l_per_h=_fuel_l(reader, "climb_fuel", "Climb fuel flow", units, lowest=0.1),
        descent_rate_ft_per_min=reader.required_number("descent_rate", "Rate of descent", unit="ft/min", lowest=50, highest=6_000),
        taxi_fuel_l=_fuel_l(reader, "taxi_fuel", "Taxi fuel", units, lowest=0.0),
        usable_fuel_l=_fuel_l(reader, "usable_fuel", "Usable fuel", units, lowest=1.0),
        speed_unit=units.speed,
        fuel_unit=units.fuel.unit,
        fuel_density_kg_per_l=units.fuel.density_kg_per_l,
        cruise_table=read_cruise_table(reader, "cruise_table", units, temperature),
        climb_table=read_climb_table(reader, "climb_table", units),
        descent_table=read_descent_table(reader, "descent_table", units),
        climb_percent_per_warm_c=None if percent is None or degrees_c is None else percent / degrees_c,
        compass_card=_compass_card(reader),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
    )
    reader.finish()
    return aircraft


def aircraft_form(aircraft: Aircraft) -> FormText:
    """Write an aircraft into its form."""
    units = TableUnits(speed=aircraft.speed_unit, fuel=aircraft.fuel_measure)
    percent = aircraft.climb_percent_per_warm_c
    warm_percent, warm_degrees = ("", "") if percent is None else warm_rule(percent)
    fields = {
        "registration": aircraft.registration,
        "type_name": aircraft.type_name,
        "speed_unit": aircraft.speed_unit.value,
        "cruise_speed": short_number_text(units.speed_of(aircraft.cruise_speed_kt)),
        "cruise_speed_kind": aircraft.cruise_speed_kind.value,
        "climb_speed": short_number_text(units.speed_of(aircraft.climb_speed_kt)),
        "climb_rate": number_text(aircraft.climb_rate_ft_per_min),
        "descent_rate": number_text(aircraft.descent_rate_ft_per_min),
        "fuel_unit": aircraft.fuel_unit.value,
        "fuel_density": number_text(aircraft.fuel_density_kg_per_l),
        "cruise_fuel": short_number_text(units.fuel.amount(aircraft.cruise_fuel_l_per_h)),
        "climb_fuel": short_number_text(units.fuel.amount(aircraft.climb_fuel_l_per_h)),
        "taxi_fuel": short_number_text(units.fuel.amount(aircraft.taxi_fuel_l)),
        "usable_fuel": short_number_text(units.fuel.amount(aircraft.usable_fuel_l)),
        "cruise_temperature": TemperatureColumn.DEVIATION.value,
        "cruise_table": cruise_text(aircraft.cruise_table, units),
        "climb_table": climb_text(aircraft.climb_table, units),
        "descent_table": climb_text(aircraft.descent_table, units),
        "warm_percent": warm_percent,
        "warm_degrees": warm_degrees,
        "card_column": CardColumn.STEER.value,
        "remarks": aircraft.remarks,
    }
    for row, entry in enumerate(aircraft.compass_card):
        fields |= {f"card.{row}.for": number_text(entry.magnetic_deg), f"card.{row}.steer": number_text(entry.steer_deg)}
    return FormText(fields=fields)


def _units(reader: FormReader) -> TableUnits:
    speed = reader.required_choice("speed_unit", "Speeds are given in", SpeedUnit)
    fuel = reader.required_choice("fuel_unit", "Fuel is given in", FuelUnit)
    density = reader.number("fuel_density", "Fuel density", unit="kg/L", lowest=0.6, highest=0.9)
    if fuel is FuelUnit.KILOGRAM and density is None:
        if not reader.form.text("fuel_density").strip():
            reader.refuse("fuel_density", "Fuel density: kilograms need it. Take the kg/L from the owner's manual or the fuel receipt.")
        density = 1.0  # so that the rest of the form can be read; nothing is kept after a problem
    return TableUnits(speed=speed, fuel=FuelMeasure(unit=fuel, density_kg_per_l=density))


def _speed_kt(reader: FormReader, place: str, label: str, units: TableUnits) -> float:
    return units.knots(reader.required_number(place, label, unit=units.speed.value, lowest=20, highest=450))


def _fuel_l(reader: FormReader, place: str, label: str, units: TableUnits, *, lowest: float) -> float:
    return units.fuel.litres(reader.required_number(place, label, unit=units.fuel.unit.value, lowest=lowest, highest=5_000))


def _warm_rule(reader: FormReader) -> tuple[float | None, float | None]:
    """The manual's rule for a climb in warm air: so many percent for so many degrees above ISA. Both or neither."""
    percent = reader.number("warm_percent", "Climb in warm air, percent", unit="%", lowest=0, highest=100)
    degrees_c = reader.number("warm_degrees", "Climb in warm air, degrees", unit="degrees C", lowest=0.5, highest=50)
    given = [bool(reader.form.text(place).strip()) for place in ("warm_percent", "warm_degrees")]
    if given[0] != given[1]:
        place = "warm_degrees" if given[0] else "warm_percent"
        reader.refuse(place, "Climb in warm air: write both, so many percent for so many degrees C, or leave both empty.")
    return percent, degrees_c


def _compass_card(reader: FormReader) -> tuple[CompassCardEntry, ...]:
    column = reader.choice("card_column", "Second row of the compass card", CardColumn) or CardColumn.STEER
    entries = []
    for row in reader.form.rows("card", spare=0):
        prefix = f"card.{row}."
        if any(reader.form.text(prefix + name).strip() for name in ("for", "steer")):
            label = f"Compass card row {row + 1}"
            magnetic_deg = reader.required_number(f"{prefix}for", f"{label}, for", unit="degrees", lowest=0, highest=360)
            entries.append(_card_entry(reader, f"{prefix}steer", label, column, magnetic_deg))
    headings = [entry.magnetic_deg % 360 for entry in entries]
    for row, heading in enumerate(headings):
        if heading in headings[:row]:
            reader.refuse(f"card.{row}.for", f"Compass card row {row + 1}: the heading {heading:g} stands there twice.")
    return tuple(sorted(entries, key=lambda entry: entry.magnetic_deg))


def _card_entry(reader: FormReader, place: str, label: str, column: CardColumn, magnetic_deg: float) -> CompassCardEntry:
    """Read the second value of a line of the card, by the convention chosen."""
    if column is CardColumn.STEER:
        steer_deg = reader.required_number(place, f"{label}, steer", unit="degrees", lowest=0, highest=360)
        return CompassCardEntry(magnetic_deg=magnetic_deg, steer_deg=steer_deg)
    if column is CardColumn.CORRECTION:
        correction_deg = reader.required_number(place, f"{label}, correction", unit="degrees", lowest=-45, highest=45)
        return entry_from_correction(magnetic_deg, correction_deg)
    deviation_deg = reader.required_number(place, f"{label}, deviation", unit="degrees", lowest=-45, highest=45)
    return entry_from_deviation(magnetic_deg, deviation_deg)


def _with_signs(form: FormText) -> FormText:
    """Write the deviations of a card with signs where they have letters: 2 E is 2, 2 W is -2."""
    if form.text("card_column") != CardColumn.DEVIATION:
        return form
    lettered = {place: _LETTERED.fullmatch(text) for place, text in form.fields.items() if _DEVIATION_FIELD.fullmatch(place)}
    signed = {place: ("-" if found[2] in "Ww" else "") + found[1] for place, found in lettered.items() if found}
    return replace(form, fields={**form.fields, **signed})
