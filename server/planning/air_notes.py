"""Remarks on the air of a flight and on the tables that were read in it: power, QNH, temperature, what lies beyond a table, old winds."""

from __future__ import annotations

from datetime import UTC, datetime

from server.navigation import Airfield, cruise_powers
from server.navigation.performance_table import Beyond, TableAxis
from server.planning.log_legs import Note, NoteLevel
from server.planning.materials import Materials
from server.planning.profile import CIRCUIT_HEIGHT_FT
from server.planning.slopes import LeftTable, performance_of
from server.planning.true_height import true_heights

AXIS_WORDS = {TableAxis.PRESSURE_ALTITUDE: "ft of pressure altitude", TableAxis.ISA_DEVIATION: "°C against the standard temperature"}


def air_notes(materials: Materials, levels_ft: tuple[float, ...], arrival_utc: datetime | None) -> list[Note]:
    """All remarks on the air of the flight, for its levels [ft]."""
    return [*_table_notes(materials, levels_ft), *_wind_notes(materials, arrival_utc), *_temperature_notes(materials)]


def _table_notes(materials: Materials, levels_ft: tuple[float, ...]) -> list[Note]:
    performance, route, notes = performance_of(materials), materials.route, []
    if performance is None:
        return []
    aircraft = performance.aircraft
    if performance.power_missing:
        several = f"the cruise table of {aircraft.registration} has {', '.join(cruise_powers(aircraft))}"
        text = f"No power is chosen, and {several}. Choose one: until then there is no speed, time or fuel."
        notes.append(Note(code="power-not-chosen", level=NoteLevel.STOP, message=text))
    if route.qnh_hpa is None and (aircraft.cruise_table or aircraft.climb_table or aircraft.descent_table):
        text = "No QNH is given: the tables are read as if planned altitudes were pressure altitudes. 30 hPa are about 800 ft."
        notes.append(Note(code="no-qnh", level=NoteLevel.ADVICE, message=text))
    start, end = (materials.airfields[number] for number in (route.departure_airfield_id, route.destination_airfield_id))
    start_ft, end_ft = _elevation_ft(start, levels_ft[0]), _elevation_ft(end, levels_ft[-1] - CIRCUIT_HEIGHT_FT) + CIRCUIT_HEIGHT_FT
    for left in performance.left_tables(levels_ft, start_ft, end_ft):
        notes.append(Note(code="beyond-table", level=NoteLevel.WARNING, message=_left_in_words(left)))
    return notes


def _elevation_ft(airfield: Airfield, otherwise_ft: float) -> float:
    return otherwise_ft if airfield.elevation_ft is None else airfield.elevation_ft


def _left_in_words(left: LeftTable) -> str:
    beyond: Beyond = left.beyond
    unit = AXIS_WORDS[beyond.axis]
    span = f"{beyond.lowest:,.0f}" if beyond.lowest == beyond.highest else f"{beyond.lowest:,.0f} to {beyond.highest:,.0f}"
    if beyond.asked is None:
        return f"The {left.table} table holds for {span} {unit}, and the temperature is not known: the real figures may be worse."
    how = "its nearest line is used" if left.table == "cruise" else "it is carried on beyond its lines"
    return f"The {left.table} table holds for {span} {unit}; {beyond.asked:,.0f} was asked: {how}. Ask the manual."


def _wind_notes(materials: Materials, arrival_utc: datetime | None) -> list[Note]:
    route = materials.route
    from_utc, to_utc = route.winds_from_utc, route.winds_to_utc
    if not route.winds or (from_utc is None and to_utc is None) or route.departure_utc is None:
        return []
    start_utc, end_utc = route.departure_utc, arrival_utc or route.departure_utc
    if from_utc is not None and start_utc < from_utc:
        text = f"The winds hold from {_moment(from_utc)}; the flight begins at {_moment(start_utc)}. Take the forecast for that time."
        return [Note(code="winds-out-of-date", level=NoteLevel.WARNING, message=text)]
    if to_utc is not None and end_utc > to_utc:
        text = f"The winds hold to {_moment(to_utc)}; the flight ends at {_moment(end_utc)}. Take a newer forecast."
        return [Note(code="winds-out-of-date", level=NoteLevel.WARNING, message=text)]
    return []


def _temperature_notes(materials: Materials) -> list[Note]:
    if true_heights(materials).known:
        return []
    text = (
        "No temperature is given, so cold air is not counted: where it is 25 °C colder than standard, an aircraft is about a tenth of its "
        "height above the station of the QNH lower than its altimeter shows."
    )
    return [Note(code="cold-not-counted", level=NoteLevel.ADVICE, message=text)]


def _moment(moment: datetime) -> str:
    in_utc = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    return f"{in_utc:%Y-%m-%d %H:%M}Z"
