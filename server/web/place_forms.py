"""The forms of airfields and checkpoints: from typed text to values, and back."""

from __future__ import annotations

from zoneinfo import available_timezones

from server.navigation import Airfield, Checkpoint, Runway
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
