"""Elevation files -> posts of the ground, kept in a store and read by memory map. A void stays a void."""

from server.terrain.crest_store import CrestStore
from server.terrain.ground import EmptyTerrain, Terrain
from server.terrain.readers import RefusedFile, TakenFile, TerrainProgress
from server.terrain.store import Bounds, TerrainLoad, TerrainStore

__all__ = ["Bounds", "CrestStore", "EmptyTerrain", "RefusedFile", "TakenFile", "Terrain", "TerrainLoad", "TerrainProgress", "TerrainStore"]
