"""Readers and writers of open formats: bytes in, frozen values and reasons out. No database, no folder of its own."""

from server.exchange.aircraft_file import read_aircraft
from server.exchange.beacon_checks import (
    PARTS_OF_KIND,
    check_pairing,
    checked_channel,
    checked_frequency,
    checked_ident,
    warn_of_odd_alignment,
)
from server.exchange.beaconry_csv import write_airfields, write_beacons, write_checkpoints
from server.exchange.formats import read_airfields, read_beacons, read_checkpoints
from server.exchange.reading import Findings, Reading, RefusedRow, RowWarning
from server.exchange.region_files import RegionDescription, read_region
from server.exchange.region_routes import BeaconName, PointDescription, RouteDescription, read_routes
from server.exchange.rows import OWN_SOURCE, source_of_key
from server.exchange.sea_geojson import read_sea
from server.exchange.table import MAX_TABLE_BYTES, read_limited

__all__ = [
    "MAX_TABLE_BYTES",
    "OWN_SOURCE",
    "PARTS_OF_KIND",
    "BeaconName",
    "Findings",
    "PointDescription",
    "Reading",
    "RefusedRow",
    "RegionDescription",
    "RouteDescription",
    "RowWarning",
    "check_pairing",
    "checked_channel",
    "checked_frequency",
    "checked_ident",
    "read_aircraft",
    "read_airfields",
    "read_beacons",
    "read_checkpoints",
    "read_limited",
    "read_region",
    "read_routes",
    "read_sea",
    "source_of_key",
    "warn_of_odd_alignment",
    "write_airfields",
    "write_beacons",
    "write_checkpoints",
]
