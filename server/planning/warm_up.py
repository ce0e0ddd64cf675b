"""Make the radio model ready before it is first asked: load its compiled kernels from their cache, or compile them."""

from __future__ import annotations

import numpy as np

from server.errors import ProjectError
from server.persistence import Library, stored
from server.planning.materials import open_ground
from server.radio import lowest_altitudes, place_antenna
from server.terrain import TerrainStore


def warm_up(library: Library, terrain_store: TerrainStore) -> None:
    """Look once from a beacon of each region to a place a mile away, over that region's own ground."""
    with library.read() as work:
        places = [(region, work.beacons.list(stored(region.id), limit=1)) for region in work.regions.list()]
    for region, beacons in places:
        try:
            ground = open_ground(terrain_store, region.ground_fingerprint)
        except ProjectError:  # damaged: its own pages tell of it, and the other regions are made ready all the same
            continue
        for beacon in beacons:
            antenna = place_antenna(
                position=beacon.position,
                published_elevation_ft=beacon.elevation_ft,
                antenna_height_ft=beacon.antenna_height_ft,
                ground=ground,
            )
            if antenna is not None:
                near_deg = np.array([1.0 / 60.0])
                lowest_altitudes(
                    antenna=antenna, lat_deg=beacon.position.lat_deg + near_deg, lon_deg=beacon.position.lon_deg + near_deg, ground=ground
                )
