"""Compiled loop that numbers connected parts of a lattice of cells. server/terrain/below_zero.py says what for."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def root_of(parent, label):
    """The first label of the set a label belongs to; the way there is shortened."""
    root = label
    while parent[root] != root:
        root = parent[root]
    while parent[label] != root:
        parent[label], label = root, parent[label]
    return root


@njit(cache=True, nogil=True)
def number_parts(wet, label):
    """Fill ``label`` (rows, columns) with the number of the connected part of each wet cell, from 1; 0 where dry. Returns how many."""
    rows, columns = wet.shape
    parent = np.zeros(wet.size + 1, dtype=np.int64)
    made = 0
    for i in range(rows):
        for j in range(columns):
            if not wet[i, j]:
                continue
            here = 0
            for di, dj in ((-1, -1), (-1, 0), (-1, 1), (0, -1)):
                if i + di < 0 or j + dj < 0 or j + dj >= columns or label[i + di, j + dj] == 0:
                    continue
                there = root_of(parent, label[i + di, j + dj])
                if here == 0:
                    here = there
                elif here != there:
                    parent[max(here, there)] = min(here, there)
                    here = min(here, there)
            if here == 0:
                made += 1
                parent[made] = made
                here = made
            label[i, j] = here
    number = np.zeros(made + 1, dtype=np.int64)
    parts = 0
    for i in range(rows):
        for j in range(columns):
            if label[i, j] > 0:
                root = root_of(parent, label[i, j])
                if number[root] == 0:
                    parts += 1
                    number[root] = parts
                label[i, j] = number[root]
    return parts
