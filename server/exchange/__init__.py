"""Readers and writers of open formats: bytes in, frozen values and reasons out. No database, no folder of its own."""

from server.exchange.aircraft_file import read_aircraft, write_aircraft
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
from server.exchange.region_archive import REGION_ENDING, Manifest, unpack_archive, write_archive
from server.exchange.region_files import RegionDescription, read_region, write_region
from server.exchange.region_routes import BeaconName, PointDescription, RouteDescription, read_routes
from server.exchange.route_writing import write_routes
from server.exchange.rows import OWN_SOURCE, source_of_key
from server.exchange.sea_geojson import read_sea
from server.exchange.table import MAX_TABLE_BYTES, read_limited

__all__ = [
    "MAX_TABLE_BYTES",
    "OWN_SOURCE",
    "PARTS_OF_KIND",
    "REGION_ENDING",
    "BeaconName",
    "Findings",
    "Manifest",
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
    "unpack_archive",
    "warn_of_odd_alignment",
    "write_aircraft",
    "write_airfields",
    "write_archive",
    "write_beacons",
    "write_checkpoints",
    "write_region",
    "write_routes",
]
