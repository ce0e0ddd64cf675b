"""Seeded noise from whole-number arithmetic: the same on every machine and with every version of numpy."""

from __future__ import annotations

import numpy as np

SEED = 20260706


def noise(x: np.ndarray, y: np.ndarray, *, seed: int) -> np.ndarray:
    """Return smooth noise from -1 to 1 with features about one unit of x and y wide."""
    column, row = np.floor(x), np.floor(y)
    across, up = _eased(x - column), _eased(y - row)
    column, row = column.astype(np.int64), row.astype(np.int64)
    south = _mix(_node(column, row, seed), _node(column + 1, row, seed), across)
    north = _mix(_node(column, row + 1, seed), _node(column + 1, row + 1, seed), across)
    return _mix(south, north, up)


def lattice_noise(x: np.ndarray, y: np.ndarray, *, seed: int) -> np.ndarray:
    """Return the same noise, bit for bit, for every pair of x (n,) and y (m,) as an array (m, n); much faster, for two passes do."""
    column, row = np.floor(x), np.floor(y)
    across, up = _eased(x - column), _eased(y - row)
    column, row = column.astype(np.int64), row.astype(np.int64)
    columns, rows = np.arange(column.min(), column.max() + 2), np.arange(row.min(), row.max() + 2)
    nodes = _node(*np.meshgrid(columns, rows), seed)
    west = column - columns[0]
    along = _mix(nodes[:, west], nodes[:, west + 1], across[np.newaxis, :])
    south = row - rows[0]
    return _mix(along[south], along[south + 1], up[:, np.newaxis])


def layered(x: np.ndarray, y: np.ndarray, *, seed: int, layers: int) -> np.ndarray:
    """Add noise of half the width and half the strength ``layers`` times; still from -1 to 1."""
    total, strength, whole = np.zeros(np.shape(x)), 1.0, 0.0
    for layer in range(layers):
        total = total + strength * noise(x * 2.0**layer, y * 2.0**layer, seed=seed + 97 * layer)
        whole += strength
        strength *= 0.5
    return total / whole


def _eased(t: np.ndarray) -> np.ndarray:
    return t * t * t * (t * (t * 6.0 - 15.0) + 10.0)


def _mix(a: np.ndarray, b: np.ndarray, t: np.ndarray) -> np.ndarray:
    return a + (b - a) * t


def _node(column: np.ndarray, row: np.ndarray, seed: int) -> np.ndarray:
    """Scramble a node's place into a number from -1 to 1 (the finaliser of SplitMix64, from memory)."""
    bits = column.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    bits ^= row.astype(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F)
    bits ^= np.uint64((seed * 0xD6E8FEB86659FD93 + SEED) % 2**64)
    bits = (bits ^ (bits >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    bits = (bits ^ (bits >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    bits ^= bits >> np.uint64(31)
    return (bits >> np.uint64(12)).astype(np.float64) / 2.0**51 - 1.0
