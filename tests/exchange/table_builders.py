"""Small valid tables in each format, with cells that a test may replace."""

from __future__ import annotations

import csv
import io

NAVAID_COLUMNS = [
    "id",
    "filename",
    "ident",
    "name",
    "type",
    "frequency_khz",
    "latitude_deg",
    "longitude_deg",
    "elevation_ft",
    "iso_country",
    "dme_frequency_khz",
    "dme_channel",
    "dme_latitude_deg",
    "dme_longitude_deg",
    "dme_elevation_ft",
    "slaved_variation_deg",
    "magnetic_variation_deg",
    "usageType",
    "power",
    "associated_airport",
]
NAVAID = {
    "id": "7",
    "ident": "SKR",
    "name": "Skerry",
    "type": "VOR-DME",
    "frequency_khz": "114300",
    "latitude_deg": "43.51",
    "longitude_deg": "-36.27",
    "elevation_ft": "812",
    "iso_country": "NA",
    "dme_frequency_khz": "114300",
    "dme_channel": "090X",
    "slaved_variation_deg": "-11.001",
    "magnetic_variation_deg": "-11.4",
    "usageType": "BOTH",
    "power": "HIGH",
}
NDB = {"type": "NDB", "frequency_khz": "373", "dme_frequency_khz": "", "dme_channel": "", "slaved_variation_deg": ""}

NASR_COLUMNS = [
    "EFF_DATE",
    "NAV_ID",
    "NAV_TYPE",
    "STATE_CODE",
    "CITY",
    "COUNTRY_CODE",
    "NAV_STATUS",
    "NAME",
    "PUBLIC_USE_FLAG",
    "NDB_CLASS_CODE",
    "OPER_HOURS",
    "LAT_DECIMAL",
    "LONG_DECIMAL",
    "TACAN_DME_STATUS",
    "TACAN_DME_LAT_DECIMAL",
    "TACAN_DME_LONG_DECIMAL",
    "ELEV",
    "MAG_VARN",
    "MAG_VARN_HEMIS",
    "MAG_VARN_YEAR",
    "SIMUL_VOICE_FLAG",
    "PWR_OUTPUT",
    "CHAN",
    "FREQ",
    "ALT_CODE",
    "DME_SSV",
]
NASR = {
    "EFF_DATE": "2026/01/22",
    "NAV_ID": "SKR",
    "NAV_TYPE": "VORTAC",
    "CITY": "SKERRY",
    "COUNTRY_CODE": "US",
    "NAV_STATUS": "OPERATIONAL IFR",
    "NAME": "SKERRY",
    "PUBLIC_USE_FLAG": "Y",
    "OPER_HOURS": "24",
    "LAT_DECIMAL": "43.51",
    "LONG_DECIMAL": "-36.27",
    "ELEV": "812.5",
    "MAG_VARN": "11",
    "MAG_VARN_HEMIS": "W",
    "MAG_VARN_YEAR": "1985",
    "SIMUL_VOICE_FLAG": "Y",
    "CHAN": "90X",
    "FREQ": "114.3",
    "ALT_CODE": "VH",
    "DME_SSV": "DH",
}

OUR_BEACON = {
    "key": "club:skr",
    "ident": "SKR",
    "name": "Skerry",
    "kind": "VOR/DME",
    "frequency_khz": "114300",
    "channel": "90X",
    "lat_deg": "43.51",
    "lon_deg": "-36.27",
    "elevation_ft": "812",
    "alignment_deg": "-11",
}
OUR_AIRFIELD = {"key": "club:xnor", "ident": "XNOR", "name": "Northfield", "lat_deg": "43.2", "lon_deg": "-36.1", "elevation_ft": "120"}
OUR_CHECKPOINT = {"key": "club:lake", "name": "Long Lake", "feature": "lake", "lat_deg": "43.3", "lon_deg": "-36.2"}


def table(*rows: dict[str, str], columns: list[str] | None = None, line_end: str = "\n") -> bytes:
    """Write rows under the columns, by default those that the rows have."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, columns or list(dict.fromkeys(key for row in rows for key in row)), restval="", lineterminator=line_end)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def navaids(*changes: dict[str, str]) -> bytes:
    """An OurAirports table: one row for each change of the plain VOR-DME, with ids 1, 2, 3 unless given."""
    return table(*({**NAVAID, "id": str(number), **change} for number, change in enumerate(changes, 1)), columns=NAVAID_COLUMNS)


def nasr(*changes: dict[str, str]) -> bytes:
    """A NASR table: one row for each change of the plain VORTAC, each in its own city."""
    rows = ({**NASR, "CITY": f"CITY{number}", **change} for number, change in enumerate(changes, 1))
    return table(*rows, columns=NASR_COLUMNS, line_end="\r\n")


REGION = """
slug = "skerry"
name = "Skerry Sound"
fictional = true
notice = "Invented. Not for navigation."
south_deg = 43
north_deg = 44
west_deg = -37
east_deg = -36
standard_parallel_1_deg = 43.2
standard_parallel_2_deg = 43.8
central_meridian_deg = -36.5
central_parallel_deg = 43.5
"""
AIRCRAFT = """
[[aircraft]]
registration = "X-ABCD"
cruise_speed_kt = 95
cruise_fuel_l_per_h = 24
climb_speed_kt = 65
climb_rate_ft_per_min = 600
climb_fuel_l_per_h = 30
taxi_fuel_l = 4
usable_fuel_l = 90
"""
