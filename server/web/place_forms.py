"""The forms of airfields, checkpoints and aircraft: from typed text to values, and back."""

from __future__ import annotations

from zoneinfo import available_timezones

from server.navigation import Aircraft, Airfield, Checkpoint, CompassCardEntry, FuelUnit, Runway, SpeedKind
from server.units import litres_from_us_gallons, us_gallons_from_litres
from server.web.forms import FormReader, FormText, number_text

LOWEST_FT, HIGHEST_FT = -1_500.0, 29_100.0


def read_airfield(form: FormText, *, region_id: int, number: int | None = None) -> Airfield:
    """Read an airfield out of its form, or raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    time_zone = reader.text("time_zone", "Time zone", longest=60)
    if time_zone and time_zone not in available_timezones():
        reader.refuse("time_zone", f'Time zone: "{time_zone}" is not known. Write it as area and city, such as Atlantic/Azores.')
    airfield = Airfield(
        id=number,
        region_id=region_id,
        ident=reader.text("ident", "Ident", longest=10, required=True).upper(),
        name=reader.text("name", "Name", required=True),
        position=reader.required_position("", "Position"),
        elevation_ft=reader.number("elevation_ft", "Elevation", unit="ft", lowest=LOWEST_FT, highest=HIGHEST_FT),
        runways=_runways(reader),
        time_zone=time_zone,
        closed=reader.checked("closed"),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
        source=reader.text("source", "Source", longest=200),
    )
    reader.finish()
    return airfield


def _runways(reader: FormReader) -> tuple[Runway, ...]:
    runways = []
    for row in reader.form.rows("runways", spare=0):
        prefix = f"runways.{row}."
        if any(reader.form.text(prefix + name).strip() for name in ("designator", "length_m", "surface")):
            runways.append(
                Runway(
                    designator=reader.text(f"{prefix}designator", f"Runway {row + 1}", longest=20, required=True),
                    length_m=reader.number(f"{prefix}length_m", f"Runway {row + 1}, length", unit="m", lowest=1, highest=10_000),
                    surface=reader.text(f"{prefix}surface", f"Runway {row + 1}, surface", longest=40),
                )
            )
    return tuple(runways)


def airfield_form(airfield: Airfield) -> FormText:
    """Write an airfield into its form."""
    fields = _place_fields(airfield) | {
        "ident": airfield.ident,
        "time_zone": airfield.time_zone,
        "closed": "yes" if airfield.closed else "",
    }
    for row, runway in enumerate(airfield.runways):
        fields |= {
            f"runways.{row}.designator": runway.designator,
            f"runways.{row}.length_m": number_text(runway.length_m),
            f"runways.{row}.surface": runway.surface,
        }
    return FormText(fields=fields)


def read_checkpoint(form: FormText, *, region_id: int, number: int | None = None) -> Checkpoint:
    """Read a checkpoint out of its form, or raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    checkpoint = Checkpoint(
        id=number,
        region_id=region_id,
        name=reader.text("name", "Name", required=True),
        feature=reader.text("feature", "Feature", longest=40, required=True),
        position=reader.required_position("", "Position"),
        elevation_ft=reader.number("elevation_ft", "Elevation", unit="ft", lowest=LOWEST_FT, highest=HIGHEST_FT),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
        source=reader.text("source", "Source", longest=200),
    )
    reader.finish()
    return checkpoint


def checkpoint_form(checkpoint: Checkpoint) -> FormText:
    """Write a checkpoint into its form."""
    return FormText(fields=_place_fields(checkpoint) | {"feature": checkpoint.feature})


def _place_fields(place: Airfield | Checkpoint) -> dict[str, str]:
    return {
        "name": place.name,
        "lat": number_text(place.position.lat_deg),
        "lon": number_text(place.position.lon_deg),
        "elevation_ft": number_text(place.elevation_ft),
        "remarks": place.remarks,
        "source": place.source,
    }


def read_aircraft(form: FormText, *, number: int | None = None) -> Aircraft:
    """Read an aircraft out of its form, or raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    unit = reader.required_choice("fuel_unit", "Fuel is given in", FuelUnit)
    aircraft = Aircraft(
        id=number,
        registration=reader.text("registration", "Registration", longest=20, required=True),
        type_name=reader.text("type_name", "Type", longest=60),
        cruise_speed_kt=reader.required_number("cruise_speed_kt", "Cruise speed", unit="kt", lowest=20, highest=400),
        cruise_speed_kind=reader.required_choice("cruise_speed_kind", "Cruise speed is", SpeedKind),
        cruise_fuel_l_per_h=_fuel_l(reader, "cruise_fuel", "Cruise fuel flow", unit, lowest=0.1),
        climb_speed_kt=reader.required_number("climb_speed_kt", "Climb speed", unit="kt", lowest=20, highest=400),
        climb_rate_ft_per_min=reader.required_number("climb_rate", "Rate of climb", unit="ft/min", lowest=50, highest=6_000),
        climb_fuel_l_per_h=_fuel_l(reader, "climb_fuel", "Climb fuel flow", unit, lowest=0.1),
        descent_rate_ft_per_min=reader.required_number("descent_rate", "Rate of descent", unit="ft/min", lowest=50, highest=6_000),
        taxi_fuel_l=_fuel_l(reader, "taxi_fuel", "Taxi fuel", unit, lowest=0.0),
        usable_fuel_l=_fuel_l(reader, "usable_fuel", "Usable fuel", unit, lowest=1.0),
        fuel_unit=unit,
        compass_card=_compass_card(reader),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
    )
    reader.finish()
    return aircraft


def _fuel_l(reader: FormReader, place: str, label: str, unit: FuelUnit, *, lowest: float) -> float:
    return litres(reader.required_number(place, label, unit=unit.value, lowest=lowest, highest=5_000), unit)


def litres(amount: float, unit: FuelUnit) -> float:
    """Turn an amount in the unit it was typed in to litres."""
    return litres_from_us_gallons(amount) if unit is FuelUnit.US_GALLON else amount


def amount(litres: float | None, unit: FuelUnit) -> float | None:
    """Turn litres to the unit the form shows."""
    return us_gallons_from_litres(litres) if litres is not None and unit is FuelUnit.US_GALLON else litres


def _compass_card(reader: FormReader) -> tuple[CompassCardEntry, ...]:
    entries = []
    for row in reader.form.rows("card", spare=0):
        prefix = f"card.{row}."
        if any(reader.form.text(prefix + name).strip() for name in ("for", "steer")):
            entries.append(
                CompassCardEntry(
                    magnetic_deg=reader.required_number(
                        f"{prefix}for", f"Compass card row {row + 1}, for", unit="degrees", lowest=0, highest=360
                    ),
                    steer_deg=reader.required_number(
                        f"{prefix}steer", f"Compass card row {row + 1}, steer", unit="degrees", lowest=0, highest=360
                    ),
                )
            )
    headings = [entry.magnetic_deg % 360 for entry in entries]
    for row, heading in enumerate(headings):
        if heading in headings[:row]:
            reader.refuse(f"card.{row}.for", f"Compass card row {row + 1}: the heading {heading:g} stands there twice.")
    return tuple(sorted(entries, key=lambda entry: entry.magnetic_deg))


def aircraft_form(aircraft: Aircraft) -> FormText:
    """Write an aircraft into its form."""
    unit = aircraft.fuel_unit
    fields = {
        "registration": aircraft.registration,
        "type_name": aircraft.type_name,
        "cruise_speed_kt": number_text(aircraft.cruise_speed_kt),
        "cruise_speed_kind": aircraft.cruise_speed_kind.value,
        "cruise_fuel": number_text(amount(aircraft.cruise_fuel_l_per_h, unit)),
        "climb_speed_kt": number_text(aircraft.climb_speed_kt),
        "climb_rate": number_text(aircraft.climb_rate_ft_per_min),
        "climb_fuel": number_text(amount(aircraft.climb_fuel_l_per_h, unit)),
        "descent_rate": number_text(aircraft.descent_rate_ft_per_min),
        "taxi_fuel": number_text(amount(aircraft.taxi_fuel_l, unit)),
        "usable_fuel": number_text(amount(aircraft.usable_fuel_l, unit)),
        "fuel_unit": unit.value,
        "remarks": aircraft.remarks,
    }
    for row, entry in enumerate(aircraft.compass_card):
        fields |= {f"card.{row}.for": number_text(entry.magnetic_deg), f"card.{row}.steer": number_text(entry.steer_deg)}
    return FormText(fields=fields)
