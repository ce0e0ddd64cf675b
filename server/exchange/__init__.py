"""Readers and writers of open formats: bytes in, frozen values and reasons out. No database, no folder of its own."""

from server.exchange.beaconry_csv import write_airfields, write_beacons, write_checkpoints
from server.exchange.formats import read_airfields, read_beacons, read_checkpoints
from server.exchange.reading import Reading, RefusedRow, RowWarning
from server.exchange.table import MAX_TABLE_BYTES, read_limited

__all__ = [
    "MAX_TABLE_BYTES",
    "Reading",
    "RefusedRow",
    "RowWarning",
    "read_airfields",
    "read_beacons",
    "read_checkpoints",
    "read_limited",
    "write_airfields",
    "write_beacons",
    "write_checkpoints",
]
