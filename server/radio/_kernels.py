"""Compiled loops of the line of sight: a ray's walk over the posts, and what the walk says.

Floats and arrays only; server/radio/sight.py holds the docstrings a user of these needs and the sources. This module loads numba: import
it inside functions, so that loading server.radio stays quick, and so that the folder of numba's cache can be set before.

Symbols: d distance along the ray [m], z elevation [m], h0 altitude of the antenna [m], re effective radius of the earth [m],
q tangent of half the angle at the earth's centre, t place on a chord (0 start, 1 end).
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def sight_slope(d, z, h0, re):
    """Tangent of the angle above the antenna's horizontal at which a point is seen, on the effective sphere."""
    q = np.tan(d / (2.0 * re))
    return (z - h0) * (1.0 + q * q) / (2.0 * q * (re + z)) - q


@njit(cache=True, nogil=True)
def altitude_on_slope(d, slope, h0, re):
    """Altitude of the straight line that leaves the antenna with a slope; infinite where it never comes over d."""
    if slope == -np.inf:
        return -np.inf
    angle = d / re
    rise = np.cos(angle) - slope * np.sin(angle)
    return (re + h0) / rise - re if rise > 0.0 else np.inf


@njit(cache=True, nogil=True)
def altitudes_on_slopes(d, slope, h0, re, altitude):
    """Fill ``altitude`` (n,) from distances (n,) and slopes (n,)."""
    for k in range(d.size):
        altitude[k] = altitude_on_slope(d[k], slope[k], h0, re)


@njit(cache=True, nogil=True)
def next_line(start, change, t):
    """Place t, later than the one given, where start + change * t next meets a whole number: a line of the lattice."""
    if change == 0.0:
        return np.inf
    here = start + change * t
    line = np.floor(here) + 1.0 if change > 0.0 else np.ceil(here) - 1.0
    place = (line - start) / change
    if place > t:
        return place
    return (line + np.sign(change) - start) / change


@njit(cache=True, nogil=True)
def known_post(posts, unknown_below, i, j):
    """Elevation of a post, NaN where it is not known."""
    post = float(posts[i, j])
    return post if post > unknown_below else np.nan


@njit(cache=True, nogil=True)
def patch_corners(posts, unknown_below, i, j, down, across):
    """North-west, north-east, south-west and south-east post of patch (i, j), for a ray whose middle lies ``down`` and ``across`` in it.

    A ray along the edge of a patch rests on the two posts of that edge: the others have no weight, known or not, and repeat them.
    """
    north = i + 1 if down == 1.0 else i
    south = i if down == 0.0 else i + 1
    west = j + 1 if across == 1.0 else j
    east = j if across == 0.0 else j + 1
    return (
        known_post(posts, unknown_below, north, west),
        known_post(posts, unknown_below, north, east),
        known_post(posts, unknown_below, south, west),
        known_post(posts, unknown_below, south, east),
    )


@njit(cache=True, nogil=True)
def bilinear(corners, down, across):
    """Elevation of the bilinear surface over four posts."""
    north_west, north_east, south_west, south_east = corners
    north = north_west + (north_east - north_west) * across
    south = south_west + (south_east - south_west) * across
    return north + (south - north) * down


@njit(cache=True, nogil=True)
def on_lattice(place, size):
    """Whether a place along one axis lies on or between posts; a place that is not a number does not."""
    return size >= 2 and place >= 0.0 and place <= size - 1.0


@njit(cache=True, nogil=True)
def patch_index(place, size):
    """First post of the patch along one axis. The last line of posts belongs to the last patch."""
    return min(int(place), size - 2)


@njit(cache=True, nogil=True)
def elevations_at(posts, unknown_below, row, column, elevation):
    """Fill bilinear elevations (n,) at places on the lattice, NaN where the ground is not known."""
    for k in range(row.size):
        elevation[k] = np.nan
        if on_lattice(row[k], posts.shape[0]) and on_lattice(column[k], posts.shape[1]):
            i = patch_index(row[k], posts.shape[0])
            j = patch_index(column[k], posts.shape[1])
            corners = patch_corners(posts, unknown_below, i, j, row[k] - i, column[k] - j)
            elevation[k] = bilinear(corners, row[k] - i, column[k] - j)


@njit(cache=True, nogil=True)
def surface_along(corners, down, across, down_step, across_step):
    """Elevation along a straight piece in a patch, from u = 0 to 1: z_in + rate u + bend u^2. Returns the three coefficients."""
    north_west, north_east, south_west, south_east = corners
    z_in = bilinear(corners, down, across)
    bend = (north_west - north_east - south_west + south_east) * down_step * across_step
    rate = bilinear(corners, down + down_step, across + across_step) - z_in - bend
    return z_in, rate, bend


@njit(cache=True, nogil=True)
def level_place(d_in, d_out, z_in, rate, bend, h0, re):
    """Distance between d_in and d_out where the slope of sight over a patch is level, NaN where it is not.

    Along the piece z - h0 = A + B d + C' d^2, so the slope is A/d + B + C d with C = C' - 1/(2 re): level at d = sqrt(A / C).
    """
    length = d_out - d_in
    a = ((z_in - h0) * length - rate * d_in) * length + bend * d_in * d_in  # A times length^2
    c = bend - length * length * (0.5 / re)  # C times length^2
    # One condition without shortcuts: each half is a coin toss for the processor.
    inside = (a * c > 0.0) & (abs(a) > d_in * d_in * abs(c)) & (abs(a) < d_out * d_out * abs(c))
    return np.sqrt(a / c) if inside else np.nan


@njit(cache=True, nogil=True)
def add_patch(posts, unknown_below, row, column, row_step, column_step, d_in, d_out, h0, re, distance, elevation, count):
    """Append the turning points of one patch: entry (after unknown ground), level place, exit. Returns the new count.

    The ray enters at (row, column) and leaves one step on. Unknown ground is one point with elevation NaN.
    """
    z_in = rate = bend = np.nan
    row_middle, column_middle = row + 0.5 * row_step, column + 0.5 * column_step
    if on_lattice(row_middle, posts.shape[0]) and on_lattice(column_middle, posts.shape[1]):
        i = patch_index(row_middle, posts.shape[0])
        j = patch_index(column_middle, posts.shape[1])
        corners = patch_corners(posts, unknown_below, i, j, row_middle - i, column_middle - j)
        z_in, rate, bend = surface_along(corners, row - i, column - j, row_step, column_step)
    after_unknown = count == 0 or np.isnan(elevation[count - 1])
    if np.isnan(rate):
        if count == 0 or not after_unknown:
            distance[count], elevation[count] = d_in, np.nan
            count += 1
        return count
    if after_unknown:
        distance[count], elevation[count] = d_in, z_in
        count += 1
    d = level_place(d_in, d_out, z_in, rate, bend, h0, re)
    if not np.isnan(d):
        u = (d - d_in) / (d_out - d_in)
        distance[count], elevation[count] = d, z_in + (rate + bend * u) * u
        count += 1
    distance[count], elevation[count] = d_out, z_in + rate + bend
    return count + 1


@njit(cache=True, nogil=True)
def add_chord(posts, unknown_below, row, column, d_start, d_end, start, h0, re, distance, elevation, count):
    """Append the turning points of one chord, beyond the distance ``start``. ``row`` and ``column`` are its two ends. Returns the count."""
    down, across, length = row[1] - row[0], column[1] - column[0], d_end - d_start
    on_grid = np.isfinite(down + across)
    t = max(0.0, (start - d_start) / length)
    while t < 1.0:
        after = min(1.0, next_line(row[0], down, t), next_line(column[0], across, t)) if on_grid else 1.0
        row_in, column_in = row[0] + down * t, column[0] + across * t
        d_in, d_out = d_start + length * t, d_start + length * after
        step = after - t
        count = add_patch(
            posts, unknown_below, row_in, column_in, down * step, across * step, d_in, d_out, h0, re, distance, elevation, count
        )
        t = after
    return count


@njit(cache=True, nogil=True)
def walk(posts, unknown_below, row, column, node_distance, start, h0, re, distance, elevation):
    """Fill the turning points of one ray: between two of them the slope of sight only rises or only falls. Returns their number."""
    count = 0
    for n in range(row.size - 1):
        d_start, d_end = node_distance[n], node_distance[n + 1]
        if d_end > start:
            chord_row, chord_column = (row[n], row[n + 1]), (column[n], column[n + 1])
            count = add_chord(posts, unknown_below, chord_row, chord_column, d_start, d_end, start, h0, re, distance, elevation, count)
    return count


@njit(cache=True, nogil=True)
def turning_points_at_most(row, column):
    """Upper limit of the number of turning points of one ray: two for each patch, one more where unknown ground begins or ends."""
    most = 2
    for n in range(row.size - 1):
        lines = abs(row[n + 1] - row[n]) + abs(column[n + 1] - column[n])
        most += 3 * (int(lines) + 4) if np.isfinite(lines) else 3
    return most


@njit(cache=True, nogil=True)
def keep_crests(distance, elevation, count, h0, re, slope):
    """Move the crests of one ray to the front of its turning points and fill their slopes. Returns their number.

    A crest is where the highest slope so far stops rising. The flank that still rises at the far end is no crest yet.
    """
    crests = 0
    highest = -np.inf
    rising = False
    for k in range(count):
        here = sight_slope(distance[k], elevation[k], h0, re)  # NaN over unknown ground: not higher
        if here > highest:
            highest = here
            rising = True
        elif rising:
            distance[crests], elevation[crests], slope[crests] = distance[k - 1], elevation[k - 1], highest
            crests += 1
            rising = False
    return crests


@njit(cache=True, nogil=True)
def first_unknown(distance, elevation, count):
    """Distance where unknown ground begins, infinite where all is known."""
    for k in range(count):
        if np.isnan(elevation[k]):
            return distance[k]
    return np.inf


@njit(cache=True, nogil=True)
def highest_point(distance, elevation, count, h0, re):
    """Highest slope of sight of one ray, distance and elevation of the place that has it (NaN where nothing is known)."""
    slope = -np.inf
    d = z = np.nan
    for k in range(count):
        here = sight_slope(distance[k], elevation[k], h0, re)
        if here > slope:
            slope, d, z = here, distance[k], elevation[k]
    return slope, d, z


@njit(cache=True, nogil=True)
def walk_many(posts, unknown_below, row, column, node_distance, first_node, start, h0, re, slope, crest, crest_z, lowest_z, unknown_from):
    """Walk rays whose nodes are first_node[k] to first_node[k + 1]; fill highest slope, its place, lowest ground, start of the unknown."""
    for k in range(first_node.size - 1):
        a, b = first_node[k], first_node[k + 1]
        most = turning_points_at_most(row[a:b], column[a:b])
        distance = np.empty(most)
        elevation = np.empty(most)
        count = walk(posts, unknown_below, row[a:b], column[a:b], node_distance[a:b], start, h0, re, distance, elevation)
        slope[k], crest[k], crest_z[k] = highest_point(distance, elevation, count, h0, re)
        unknown_from[k] = first_unknown(distance, elevation, count)
        lowest_z[k] = np.inf
        for m in range(count):
            if elevation[m] < lowest_z[k]:
                lowest_z[k] = elevation[m]
