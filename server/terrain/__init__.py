"""Elevation files -> posts of the ground, kept in a store and read by memory map. A void stays a void."""

from server.terrain.below_zero import BelowZero, LowGround
from server.terrain.crest_store import CrestStore
from server.terrain.ground import EmptyTerrain, Terrain
from server.terrain.invented import InventedLand, invent
from server.terrain.lattice import Lattice
from server.terrain.lie_of_the_land import LieOfTheLand, lie_of_the_land
from server.terrain.packed_tiles import unpack_tiles
from server.terrain.readers import RefusedFile, TakenFile, TerrainProgress
from server.terrain.store import Bounds, TerrainLoad, TerrainStore
from server.terrain.tiles import write_tiles

__all__ = [
    "BelowZero",
    "Bounds",
    "CrestStore",
    "EmptyTerrain",
    "InventedLand",
    "Lattice",
    "LieOfTheLand",
    "LowGround",
    "RefusedFile",
    "TakenFile",
    "Terrain",
    "TerrainLoad",
    "TerrainProgress",
    "TerrainStore",
    "invent",
    "lie_of_the_land",
    "unpack_tiles",
    "write_tiles",
]
