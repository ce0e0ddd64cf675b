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
def steepest_place(d_in, d_out, z_in, z_middle, z_out, h0, re):
    """Distance in a patch where the slope of sight has its one level place, NaN where it has none there.

    Along the chord z - h0 = A + B d + C' d^2, so the slope is A/d + B + C d with C = C' - 1/(2 re): level at d = sqrt(A / C).
    """
    length = d_out - d_in
    first = d_in / length
    bend = 2.0 * (z_in + z_out - 2.0 * z_middle)  # C', with the length of the chord as unit of distance
    rate = z_out - z_in - bend  # dz/dd at d_in
    at_antenna = z_in - h0 + (bend * first - rate) * first  # A
    curve = bend - length * length * (0.5 / re)  # C
    if at_antenna * curve <= 0.0:
        return np.nan
    if not first * first < at_antenna / curve < (first + 1.0) * (first + 1.0):
        return np.nan
    return length * np.sqrt(at_antenna / curve)


@njit(cache=True, nogil=True)
def add_patch(posts, unknown_below, rows, columns, d_in, d_out, h0, re, distance, elevation, count):
    """Append the turning points of one patch: entry (after unknown ground), level place, exit. Returns the new count.

    ``rows`` and ``columns`` are the lattice places at entry, middle and exit. Unknown ground is one point with elevation NaN.
    """
    z_in = z_middle = z_out = np.nan
    if on_lattice(rows[1], posts.shape[0]) and on_lattice(columns[1], posts.shape[1]):
        i = patch_index(rows[1], posts.shape[0])
        j = patch_index(columns[1], posts.shape[1])
        corners = patch_corners(posts, unknown_below, i, j, rows[1] - i, columns[1] - j)
        z_in = bilinear(corners, rows[0] - i, columns[0] - j)
        z_middle = bilinear(corners, rows[1] - i, columns[1] - j)
        z_out = bilinear(corners, rows[2] - i, columns[2] - j)
    after_unknown = count == 0 or np.isnan(elevation[count - 1])
    if np.isnan(z_in + z_middle + z_out):
        if count == 0 or not after_unknown:
            distance[count] = d_in
            elevation[count] = np.nan
            count += 1
        return count
    if after_unknown:
        distance[count] = d_in
        elevation[count] = z_in
        count += 1
    d = steepest_place(d_in, d_out, z_in, z_middle, z_out, h0, re)
    if not np.isnan(d):
        u = (d - d_in) / (d_out - d_in)
        distance[count] = d
        elevation[count] = z_in * (1.0 - u) * (1.0 - 2.0 * u) + 4.0 * z_middle * u * (1.0 - u) + z_out * u * (2.0 * u - 1.0)
        count += 1
    distance[count] = d_out
    elevation[count] = z_out
    return count + 1


@njit(cache=True, nogil=True)
def add_chord(posts, unknown_below, row, column, node_distance, n, start, h0, re, distance, elevation, count):
    """Append the turning points of the chord from node n to node n + 1, beyond the distance ``start``. Returns the new count."""
    down = row[n + 1] - row[n]
    across = column[n + 1] - column[n]
    length = node_distance[n + 1] - node_distance[n]
    t = max(0.0, (start - node_distance[n]) / length)
    while t < 1.0:
        after = 1.0
        if np.isfinite(down + across):
            after = min(after, next_line(row[n], down, t), next_line(column[n], across, t))
        middle = 0.5 * (t + after)
        count = add_patch(
            posts,
            unknown_below,
            (row[n] + down * t, row[n] + down * middle, row[n] + down * after),
            (column[n] + across * t, column[n] + across * middle, column[n] + across * after),
            node_distance[n] + length * t,
            node_distance[n] + length * after,
            h0,
            re,
            distance,
            elevation,
            count,
        )
        t = after
    return count


@njit(cache=True, nogil=True)
def walk(posts, unknown_below, row, column, node_distance, start, h0, re, distance, elevation):
    """Fill the turning points of one ray: between two of them the slope of sight only rises or only falls. Returns their number."""
    count = 0
    for n in range(row.size - 1):
        if node_distance[n + 1] > start:
            count = add_chord(posts, unknown_below, row, column, node_distance, n, start, h0, re, distance, elevation, count)
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
