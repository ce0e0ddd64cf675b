"""The log as plain text, 100 columns, that can be printed anywhere and flown.

Lays out a LogSheet; no number is rounded and no sentence made here.
"""

from __future__ import annotations

import textwrap

from server.planning.log import NavigationLog
from server.sheets.leg_sheet import CheckRow, LegSheet, TuneRow
from server.sheets.log_sheet import LogSheet, log_sheet

COLUMNS = 100
_LABEL = 10  # width of the label in front of a line


def log_as_text(log: NavigationLog) -> str:
    """Write the navigation log as text: header, one block a leg with what is flown first, totals, fuel, notes, caution."""
    sheet = log_sheet(log)
    lines = [*_header(sheet), *_points(sheet)]
    for leg in sheet.legs:
        lines += ["", *_leg(leg)]
    lines += ["", "=" * COLUMNS, *_totals(sheet), "", *_closing(sheet)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _wrapped(label: str, text: str) -> list[str]:
    """Wrap a text behind its label. Runs of blanks that set columns are kept while the line fits."""
    head = f"{label:<{_LABEL}}"
    if len(head) + len(text) <= COLUMNS:
        return [head + text]
    return textwrap.wrap(text, width=COLUMNS, initial_indent=head, subsequent_indent=" " * _LABEL, break_on_hyphens=False)


def _header(sheet: LogSheet) -> list[str]:
    lines = ["=" * COLUMNS, *_wrapped("LOG", sheet.title)]
    if sheet.fictional_notice:
        lines += _wrapped("", sheet.fictional_notice)
    lines += [
        *_wrapped("From", sheet.departure),
        *_wrapped("To", sheet.destination),
        *_wrapped("Date", f"{sheet.day}   take-off {sheet.off_blocks} (local {sheet.off_blocks_local})"),
        *_wrapped("Arrival", f"{sheet.arrival} (local {sheet.arrival_local})"),
        *_wrapped("Aircraft", sheet.aircraft),
        *_wrapped("Region", sheet.region),
        *(_wrapped("", sheet.region_notice) if sheet.region_notice else []),
        *_wrapped("Data", sheet.status),
        *_wrapped("Verdict", sheet.verdict),
        *(line for note in sheet.notes if note.startswith("STOP") for line in _wrapped("", note)),
    ]
    if sheet.remarks:
        lines += _wrapped("Remarks", sheet.remarks)
    return [*lines, "=" * COLUMNS]


def _points(sheet: LogSheet) -> list[str]:
    lines = []
    for point in sheet.points:
        definition = f"   {point.definition}" if point.definition else ""
        lines += _wrapped(f"Point {point.number}", f"{point.position}   {point.altitude:>9}   {point.ident} {point.name}{definition}")
    return lines


def _leg(leg: LegSheet) -> list[str]:
    lines = [
        *_wrapped(f"LEG {leg.number}", f"{leg.start} to {leg.end}"),
        "-" * COLUMNS,
        *_wrapped(
            "  STEER",
            f"{leg.heading_magnetic} magnetic   {leg.heading_compass} compass   |   {leg.altitude}   |   {leg.distance} NM   "
            f"{leg.time}   |   ETA {leg.arrival}",
        ),
    ]
    for part in leg.parts:
        lines += _wrapped("  FLY", part.words)
    for tune in leg.tune:
        lines += _tune(tune)
    if leg.changeover:
        lines += _wrapped("", leg.changeover)
    for hold in leg.holds:
        lines += _wrapped("  HOLD", hold)
    for check in leg.checks:
        lines += _check(check)
    for sentence in leg.passage:
        lines += _wrapped("  OVER", sentence)
    lines += [
        *_wrapped("  work", f"track {leg.track_true}T {leg.track_magnetic}M   variation {leg.variation}   heading {leg.heading_true}T"),
        *_wrapped("", f"wind {leg.wind} ({leg.wind_magnetic})   correction {leg.wind_correction}"),
        *_wrapped("", f"TAS {leg.true_airspeed} kt   GS {leg.groundspeed} kt   fuel {leg.fuel}, left {leg.fuel_remaining}"),
        *_wrapped("", f"flown {leg.distance_so_far} NM   highest ground {leg.highest_ground}"),
    ]
    lines += _wrapped("  level", leg.levels) if leg.levels else []
    for tune in leg.tune:
        lines += _wrapped("  why", tune.why) if tune.why else []
    for row in leg.receptions:
        told = f"{row.station}: {row.heard}. Margin {row.margin}. Whole leg {row.received_from}. Decides: {row.decides}."
        lines += _wrapped("  heard", told)
    lines += _ways_out(leg)
    for finding in leg.findings:
        lines += _wrapped("  found", finding)
    for note in leg.notes:
        lines += _wrapped("  note", note)
    return lines


def _tune(tune: TuneRow) -> list[str]:
    settings = " ".join(part for part in (tune.set_course, tune.flag, tune.north, tune.estimated) if part)
    channel = f" ({tune.channel})" if tune.channel else ""
    first = f"{tune.ident:<4} {tune.frequency}{channel}   {tune.morse}   |   {settings}   |   {tune.from_nm} to {tune.to_nm} NM"
    return [*_wrapped("  SET", first), *_wrapped("", tune.words)]


def _ways_out(leg: LegSheet) -> list[str]:
    lines = []
    if leg.lost is not None:
        told = "; ".join(f"{line.ident} {line.frequency} {line.morse} {line.reads}" for line in leg.lost.lines)
        lines += _wrapped("  lost", f"{told}. {leg.lost.words}" if told else leg.lost.words)
    for row in leg.diversions:
        steer = f"steer {row.heading_magnetic}M (track {row.track_magnetic}M), {row.distance} NM, {row.time}, {row.fuel}"
        lines += _wrapped("  else", f"from {row.place}: {row.airfield}, {steer}. {row.aid}.")
    return lines


def _check(check: CheckRow) -> list[str]:
    where = f"{check.at_nm} NM  {check.at_time}{f'  {check.name}' if check.name else ''}"
    lines = _wrapped("  CHECK", f"{where}   |   {check.reads[0]}")
    for reads in check.reads[1:]:
        lines += _wrapped("", f"or {reads}")
    return [*lines, *(_wrapped("", check.picture) if check.picture else [])]


def _totals(sheet: LogSheet) -> list[str]:
    lines = [
        *_wrapped(
            "TOTAL",
            f"{sheet.total_distance}   {sheet.total_time} ({sheet.total_time_words}: "
            f"climb {sheet.climb_time}, descent {sheet.descent_time})",
        )
    ]
    for label, amount in sheet.fuel_rows:
        lines += _wrapped("Fuel", f"{amount:>14}   {label}")
    lines += _wrapped("Fuel", sheet.fuel_verdict)
    for sentence in sheet.turn_back:
        lines += _wrapped("Turn back", sentence)
    for label, value in sheet.sun_rows:
        lines += _wrapped("Sun", f"{label}: {value}")
    return lines


def _closing(sheet: LogSheet) -> list[str]:
    lines = []
    for note in sheet.notes:
        lines += _wrapped("Note", note)
    for label, value in sheet.sources:
        lines += _wrapped("Data", f"{label}: {value}")
    lines += ["", f"{sheet.off_flag_title}:"]
    for number, meaning in enumerate(sheet.off_flag_meanings, start=1):
        lines += _wrapped(f"  {number}", meaning)
    lines += ["", f"{sheet.lost_title}:"]
    for number, step in enumerate(sheet.lost_steps, start=1):
        lines += _wrapped(f"  {number}", step)
    lines += ["", *_wrapped("", sheet.not_checked), *_wrapped("CAUTION", sheet.caution)]
    return [*lines, *_wrapped("", sheet.fictional_notice)] if sheet.fictional_notice else lines
