"""Rivers and what they carve, on a lattice of heights.

Only + - * / and square roots of single numbers are used, each exact to the last bit by IEEE 754, so every machine carves the same land.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

NEIGHBOURS = np.array([(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)])


@njit(cache=True, nogil=True)
def _push(keys, cells, size, key, cell):
    """Put a cell on a heap of (key, cell), the lowest on top; return the new size."""
    at = size
    while at > 0:
        parent = (at - 1) // 2
        if keys[parent] < key or (keys[parent] == key and cells[parent] < cell):
            break
        keys[at], cells[at] = keys[parent], cells[parent]
        at = parent
    keys[at], cells[at] = key, cell
    return size + 1


@njit(cache=True, nogil=True)
def _drop_top(keys, cells, size):
    """Take the top off the heap; return the new size."""
    size -= 1
    key, cell = keys[size], cells[size]
    at = 0
    while True:
        child = 2 * at + 1
        if child >= size:
            break
        other = child + 1
        if other < size and (keys[other] < keys[child] or (keys[other] == keys[child] and cells[other] < cells[child])):
            child = other
        if key < keys[child] or (key == keys[child] and cell < cells[child]):
            break
        keys[at], cells[at] = keys[child], cells[child]
        at = child
    keys[at], cells[at] = key, cell
    return size


@njit(cache=True, nogil=True)
def drain(heights, land, pull, step_x_m, step_y_m, neighbours):
    """Find where each land cell drains to, flooding the land from the sea upward, lowest first.

    Returns the land cells from the sea upward (n,), the receiver of every cell (rows * columns,), itself for the sea, and the distance to
    it [m]. A hollow drains over its lowest lip. ``pull`` (rows * columns,), near 1, makes water prefer some cells, so that rivers wind.
    """
    rows, columns = heights.shape
    total = rows * columns
    level = heights.copy().reshape(total)
    receiver = np.arange(total)
    distance = np.ones(total)
    taken = np.zeros(total, dtype=np.bool_)
    waiting = np.zeros(total, dtype=np.bool_)
    keys = np.empty(total)
    cells = np.empty(total, dtype=np.int64)
    size = 0
    order = np.empty(total, dtype=np.int64)
    count = 0
    for r in range(rows):
        for c in range(columns):
            here = r * columns + c
            if land[r, c]:
                continue
            taken[here] = True
            for k in range(8):
                rr, cc = r + neighbours[k, 0], c + neighbours[k, 1]
                if 0 <= rr < rows and 0 <= cc < columns and land[rr, cc] and not waiting[rr * columns + cc]:
                    there = rr * columns + cc
                    waiting[there] = True
                    receiver[there] = here
                    distance[there] = math.sqrt((neighbours[k, 0] * step_y_m) ** 2 + (neighbours[k, 1] * step_x_m) ** 2)
                    size = _push(keys, cells, size, level[there], there)
    while size > 0:
        here = cells[0]
        size = _drop_top(keys, cells, size)
        taken[here] = True
        order[count] = here
        count += 1
        r, c = here // columns, here % columns
        steepest = 0.0
        for k in range(8):
            rr, cc = r + neighbours[k, 0], c + neighbours[k, 1]
            if not (0 <= rr < rows and 0 <= cc < columns):
                continue
            there = rr * columns + cc
            apart = math.sqrt((neighbours[k, 0] * step_y_m) ** 2 + (neighbours[k, 1] * step_x_m) ** 2)
            if taken[there]:
                slope = (level[here] - level[there]) / apart * pull[there]
                if slope > steepest:
                    steepest = slope
                    receiver[here] = there
                    distance[here] = apart
            elif not waiting[there]:
                waiting[there] = True
                receiver[there] = here
                distance[there] = apart
                if level[there] < level[here]:
                    level[there] = level[here]
                size = _push(keys, cells, size, level[there], there)
    return order[:count], receiver, distance


@njit(cache=True, nogil=True)
def catchment_areas(order, receiver, cell_area_m2):
    """Return for each cell the area that drains through it. [m2]"""
    areas = np.full(receiver.size, cell_area_m2)
    for k in range(order.size - 1, -1, -1):
        here = order[k]
        areas[receiver[here]] += areas[here]
    return areas


@njit(cache=True, nogil=True)
def carve(heights, order, receiver, distance, areas, uplift, softness, years):
    """Let the land rise and its rivers cut into it for a time, from the sea upward; heights change in place.

    dh/dt = uplift - softness sqrt(area) dh/dx, taken implicitly along each river, so that any time step is stable (J. Braun and
    S. D. Willett, A very efficient O(n) method to solve the stream power equation, Geomorphology 180-181, 2013, from memory).
    """
    for k in range(order.size):
        here = order[k]
        there = receiver[here]
        pull = softness[here] * years * math.sqrt(areas[here]) / distance[here]
        raised = (heights[here] + uplift[here] * years + pull * heights[there]) / (1.0 + pull)
        heights[here] = max(raised, heights[there])


@njit(cache=True, nogil=True)
def smooth(heights, land, share):
    """Let slopes creep: move each land cell a share of the way to the mean of its four neighbours. Returns new heights."""
    rows, columns = heights.shape
    result = heights.copy()
    for r in range(1, rows - 1):
        for c in range(1, columns - 1):
            if land[r, c]:
                mean = (heights[r - 1, c] + heights[r + 1, c] + heights[r, c - 1] + heights[r, c + 1]) * 0.25
                result[r, c] = heights[r, c] + share * (mean - heights[r, c])
    return result
