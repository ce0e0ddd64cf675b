"""Make the files of the sample region: run ``python -m sample_region.make_region`` in the checkout.

Everything is invented. The same files come out on every machine; only the packing of the terrain may differ with the zlib at hand.
"""

from __future__ import annotations

import io
import json
import shutil
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from sample_region.ground import Ground, build_ground
from sample_region.landscape import EAST_DEG, NORTH_DEG, POSTS_PER_DEGREE, SOUTH_DEG, WEST_DEG
from sample_region.places import DISTANCE, FIELDS, INVENTED, MARKS, STATIONS, TIME_ZONE, Field, Mark, Station
from server.exchange import write_airfields, write_beacons, write_checkpoints
from server.exchange.limits_text import read_runways
from server.navigation.places import Airfield, Checkpoint
from server.navigation.position import Position
from server.radio import channel_for_vor_khz
from server.radio.beacon import Beacon, BeaconKind, Component

HERE = Path(__file__).parent
WRITTEN_BY_HAND = ("region.toml", "aircraft.toml", "routes.toml")
ZIP_DAY = (2026, 1, 1, 0, 0, 0)  # fixed, so that the archives do not carry the hour they were made
FEET_PER_METRE = 1.0 / 0.3048


def make(folder: Path) -> None:
    """Write the whole region into a folder; what a person wrote by hand is copied there."""
    ground = build_ground()
    folder.mkdir(parents=True, exist_ok=True)
    for name in WRITTEN_BY_HAND:
        if folder != HERE:
            shutil.copyfile(HERE / name, folder / name)
    (folder / "beacons.csv").write_bytes(write_beacons(_beacon(station, ground) for station in STATIONS))
    (folder / "airfields.csv").write_bytes(write_airfields(_airfield(field, ground) for field in FIELDS))
    (folder / "checkpoints.csv").write_bytes(write_checkpoints(_checkpoint(mark, ground) for mark in MARKS))
    terrain = folder / "terrain"
    terrain.mkdir(exist_ok=True)
    at_sea = []
    for south_deg in range(SOUTH_DEG, NORTH_DEG):
        for west_deg in range(WEST_DEG, EAST_DEG):
            name, posts = _tile(ground, south_deg, west_deg)
            if posts.any():
                (terrain / f"{name}.hgt.zip").write_bytes(_packed(f"{name}.hgt", posts.astype(">i2").tobytes()))
            else:
                at_sea.append((south_deg, west_deg))
    (folder / "sea.geojson").write_text(_sea(at_sea), encoding="utf-8")


def _tile(ground: Ground, south_deg: int, west_deg: int) -> tuple[str, np.ndarray]:
    top = (NORTH_DEG - south_deg - 1) * POSTS_PER_DEGREE
    left = (west_deg - WEST_DEG) * POSTS_PER_DEGREE
    return f"N{south_deg:02d}W{-west_deg:03d}", ground.posts[top : top + POSTS_PER_DEGREE + 1, left : left + POSTS_PER_DEGREE + 1]


def _packed(name: str, content: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        entry = zipfile.ZipInfo(name, date_time=ZIP_DAY)
        entry.external_attr = 0o644 << 16
        archive.writestr(entry, content, compress_type=zipfile.ZIP_DEFLATED, compresslevel=9)
    return packed.getvalue()


def _sea(squares: list[tuple[int, int]]) -> str:
    """Draw the degree squares that hold nothing but sea and so have no tile."""
    polygons = [[[[west, south], [west + 1, south], [west + 1, south + 1], [west, south + 1], [west, south]]] for south, west in squares]
    return json.dumps({"type": "MultiPolygon", "coordinates": polygons}, indent=1) + "\n"


def _position(at: tuple[float, float]) -> Position:
    return Position(lat_deg=at[0], lon_deg=at[1])


def _elevation_ft(ground: Ground, at: tuple[float, float]) -> float:
    return float(round(ground.elevation_m(*at) * FEET_PER_METRE))


def _beacon(station: Station, ground: Ground) -> Beacon:
    channel = station.channel
    if channel is None:
        paired = station.kind not in (BeaconKind.VOR, BeaconKind.NDB, BeaconKind.NDB_DME)
        channel = channel_for_vor_khz(station.frequency_khz) if paired else ""
    return Beacon(
        region_id=0,
        ident=station.ident,
        name=station.name,
        kind=station.kind,
        frequency_khz=station.frequency_khz,
        channel=channel,
        position=_position(station.at),
        elevation_ft=_elevation_ft(ground, station.at) if station.elevation_published else None,
        antenna_height_ft=station.antenna_height_ft,
        alignment=station.alignment,
        components=tuple(_moved(part, station, ground) for part in station.parts),
        voice=station.voice,
        remarks=station.remarks,
        source=INVENTED,
        external_key=f"vessune:{station.kind} {station.ident}",
    )


def _moved(part: Component, station: Station, ground: Ground) -> Component:
    """Stand a DME at its own place where it has one."""
    if part.kind is not DISTANCE or station.dme_at is None:
        return part
    return replace(part, position=_position(station.dme_at), elevation_ft=_elevation_ft(ground, station.dme_at))


def _airfield(field: Field, ground: Ground) -> Airfield:
    return Airfield(
        region_id=0,
        ident=field.ident,
        name=field.name,
        position=_position(field.at),
        elevation_ft=_elevation_ft(ground, field.at),
        runways=read_runways(field.runways),
        time_zone=TIME_ZONE,
        closed=field.closed,
        remarks=field.remarks,
        source=INVENTED,
        external_key=f"vessune:{field.ident}",
    )


def _checkpoint(mark: Mark, ground: Ground) -> Checkpoint:
    return Checkpoint(
        region_id=0,
        name=mark.name,
        feature=mark.feature,
        position=_position(mark.at),
        elevation_ft=_elevation_ft(ground, mark.at),
        remarks=mark.remarks,
        source=INVENTED,
        external_key=f"vessune:{mark.name}",
    )


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
