"""Compiled loops of the crest table: a ray's walk that skips ground which cannot hide anything, and the look-up.

Floats and arrays only; server/radio/crest_table.py holds the docstrings a user of these needs. Import inside functions, as for
server/radio/_kernels.py, whose patches and symbols these are: d distance along the ray [m], z elevation [m], h0 altitude of the
antenna [m], re effective radius of the earth [m], t place on a chord (0 start, 1 end).

A block is a square of posts. A piece of a ray that moves by less than a block's side less one step, along rows and along columns, lies
over at most two by two blocks: their highest post bounds it.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from server.radio._kernels import altitude_on_slope, level_place, on_lattice, patch_index, surface_along

SMALL = 8
"""Side of a small block, in posts."""

LARGE = 32
"""Side of a large block, in posts: a whole number of small ones."""

SMALL_IN_LARGE = 4
"""Small pieces of a ray (SMALL - 1 steps at most) in a large one (28 steps then, which is less than LARGE - 1)."""

SLACK_M = 0.001
"""Ground is skipped only when it stays this far below the line of sight: far more than rounding, far less than anybody asks."""

LARGEST_DRIFT = 32_767
"""Stands for any drift that is as large or larger: then it explains nothing."""

ON_LINE = 1e-7
"""A place this near to a line of posts, in steps, lies on it: the rest is rounding."""


@njit(cache=True, nogil=True, error_model="numpy")
def small_blocks(line_of_posts, rows, columns, row_step, unknown_below, blocks):
    """Fill the highest and the lowest post of each small block; a post that is not known, as off the lattice, counts as -inf.

    ``line_of_posts`` is the lattice in one line, its rows ``row_step`` apart: compilers see better what lies side by side. Block (i, j)
    begins with post (SMALL (i - 1), SMALL (j - 1)): a border of blocks lies off the lattice.
    """
    nothing, endless = np.float32(-np.inf), np.float32(np.inf)
    high, low = np.empty(columns + SMALL, np.float32), np.empty(columns + SMALL, np.float32)
    high[columns:], low[columns:] = nothing, nothing
    blocks[:] = nothing
    for i in range((rows + SMALL - 1) // SMALL):
        high[:columns], low[:columns] = nothing, endless if (i + 1) * SMALL <= rows else nothing
        for r in range(i * SMALL, min(rows, (i + 1) * SMALL)):
            row = line_of_posts[r * row_step : r * row_step + columns]
            for c in range(row.size):
                z = np.float32(row[c])
                z = z if z > unknown_below else nothing
                high[c] = z if z > high[c] else high[c]
                low[c] = z if z < low[c] else low[c]
        for j in range((columns + SMALL - 1) // SMALL):
            top, bottom = nothing, endless
            for c in range(j * SMALL, j * SMALL + SMALL):
                top = high[c] if high[c] > top else top
                bottom = low[c] if low[c] < bottom else bottom
            blocks[i + 1, j + 1, 0], blocks[i + 1, j + 1, 1] = top, bottom


@njit(cache=True, nogil=True, error_model="numpy")
def large_blocks(small, blocks):
    """Fill the highest and the lowest of the small blocks in each large one; these have a border too."""
    side = LARGE // SMALL
    blocks[:] = np.float32(-np.inf)
    for i in range(blocks.shape[0] - 2):
        for j in range(blocks.shape[1] - 2):
            top, bottom = np.float32(-np.inf), np.float32(np.inf)
            for a in range(i * side + 1, min(small.shape[0], i * side + side + 1)):
                for b in range(j * side + 1, min(small.shape[1], j * side + side + 1)):
                    top, bottom = max(top, small[a, b, 0]), min(bottom, small[a, b, 1])
            blocks[i + 1, j + 1, 0], blocks[i + 1, j + 1, 1] = top, bottom


@njit(cache=True, nogil=True, error_model="numpy")
def widen_blocks(blocks):
    """Let each block stand for the two by two that begin with it, in place."""
    rows, columns, _ = blocks.shape
    for i in range(rows):
        below = min(i + 1, rows - 1)
        for j in range(columns):
            beside = min(j + 1, columns - 1)
            blocks[i, j, 0] = max(max(blocks[i, j, 0], blocks[i, beside, 0]), max(blocks[below, j, 0], blocks[below, beside, 0]))
            blocks[i, j, 1] = min(min(blocks[i, j, 1], blocks[i, beside, 1]), min(blocks[below, j, 1], blocks[below, beside, 1]))


@njit(cache=True, nogil=True, error_model="numpy")
def block_of(place, side, blocks):
    """Index of the block that a place along one axis lies in; the blocks of the border reach on without end."""
    return int(min(max(place / side + 1.0, 0.0), blocks - 1.0))


@njit(cache=True, nogil=True, error_model="numpy")
def near_slope(d, z, h0, re):
    """Tangent of the angle above the antenna's horizontal at which a point is seen, as sight_slope in _kernels.py, for d < 0.06 re.

    The tangent of half the angle is its series, tan x = x + x^3/3 + 2 x^5/15 + 17 x^7/315 + 62 x^9/2835: exact to rounding.
    """
    x = d / (2.0 * re)
    x2 = x * x
    q = x * (1.0 + x2 * (1.0 / 3.0 + x2 * (2.0 / 15.0 + x2 * (17.0 / 315.0 + x2 * (62.0 / 2835.0)))))
    return (z - h0) * (1.0 + q * q) / (2.0 * q * (re + z)) - q


@njit(cache=True, nogil=True, error_model="numpy")
def tangent(slope, sine, cosine, h0, re):
    """Altitude of the line of sight where the angle at the earth's centre has this sine and cosine, and its rise per metre of distance.

    Over a sphere the line is convex: its tangent is nowhere above it.
    """
    if slope == -np.inf:
        return -np.inf, 0.0
    q = cosine - slope * sine
    if q <= 0.0:
        return np.inf, 0.0
    return (re + h0) / q - re, (re + h0) * (sine + slope * cosine) / (q * q * re)


@njit(cache=True, nogil=True, error_model="numpy")
def line_after(start, change, per_line, t):
    """Whole number that start + change * t meets next, later than t; ``per_line`` is 1 / change."""
    if change == 0.0:
        return np.inf
    here = start + change * t
    line = np.floor(here) + 1.0 if change > 0.0 else np.ceil(here) - 1.0
    return line if (line - start) * per_line > t else line + np.sign(change)


@njit(cache=True, nogil=True, error_model="numpy")
def patch_entry(row, down, per_row, column, across, per_column, t, earliest):
    """Place where the ray entered the patch that it crosses at t, not before the earliest."""
    entry = earliest
    if down != 0.0:
        entry = max(entry, (line_after(row, down, per_row, t) - np.sign(down) - row) * per_row)
    if across != 0.0:
        entry = max(entry, (line_after(column, across, per_column, t) - np.sign(across) - column) * per_column)
    return entry


@njit(cache=True, nogil=True, error_model="numpy")
def highest_of(corners):
    """Highest of four posts that are known."""
    return max(max(corners[0], corners[1]), max(corners[2], corners[3]))


@njit(cache=True, nogil=True, error_model="numpy")
def lowest_of(corners):
    """Lowest of four posts, NaN where one is NaN."""
    a = corners[0] if not corners[0] > corners[1] else corners[1]
    b = corners[2] if not corners[2] > corners[3] else corners[3]
    return (a if not a > b else b) + 0.0 * (corners[0] + corners[1] + corners[2] + corners[3])


@njit(cache=True, nogil=True, error_model="numpy")
def patch_points(corners, down, across, down_step, across_step, d_in, d_out, h0, re):
    """Elevation where the ray enters a patch, distance and elevation of its level place (NaN: none), elevation where the ray leaves."""
    z_in, rate, bend = surface_along(corners, down, across, down_step, across_step)
    d_level = level_place(d_in, d_out, z_in, rate, bend, h0, re)
    u = (d_level - d_in) / (d_out - d_in)
    return z_in, d_level, z_in + (rate + bend * u) * u, z_in + rate + bend


@njit(cache=True, nogil=True, error_model="numpy")
def walk_ray(
    posts, unknown_below, small, large, row, column, spacing, start, h0, re, sine, cosine, crest_d, crest_slope,
):  # fmt: skip
    """Fill the crests of one ray whose nodes are ``spacing`` apart. Returns their number and where unknown ground begins.

    Each chord is walked large piece by large piece, small piece by small piece, patch by patch; what lies below the line of sight is
    skipped. ``sine`` and ``cosine`` belong to the beginnings of the small pieces. ``line + rise * d`` is a tangent below the line of sight;
    ``pending`` is the distance of the crest that still rises (NaN: none).

    One long function: handing arrays on would cost more than looking at a block does (reference counts).
    """
    rows, columns = posts.shape
    pieces = sine.size // (row.size - 1)
    share = 1.0 / pieces
    highest, pending, count, unknown_from = -np.inf, np.nan, 0, np.inf
    for n in range(row.size - 1):
        d_start, row_start, column_start = n * spacing, row[n], column[n]
        if d_start + spacing <= start:
            continue
        down, across = row[n + 1] - row_start, column[n + 1] - column_start
        per_row, per_column = 1.0 / down if down != 0.0 else np.inf, 1.0 / across if across != 0.0 else np.inf
        row_way, column_way = np.sign(down), np.sign(across)
        # A ray along a line of posts rests on the posts of that line alone: those beside it have no weight, known or not.
        along_row = int(row_start) if down == 0.0 and row_start == np.rint(row_start) and on_lattice(row_start, rows) else -1
        along_column = (
            int(column_start) if across == 0.0 and column_start == np.rint(column_start) and on_lattice(column_start, columns) else -1
        )
        t = earliest = max(0.0, (start - d_start) / spacing)
        line_of, line, rise = np.nan, 0.0, 0.0
        row_line = column_line = row_t = column_t = np.inf
        piece, next_large, step = 0, 0, 1
        while piece < pieces:
            # 1. Is there a piece that cannot hide anything?
            if piece == next_large:
                next_large += SMALL_IN_LARGE
                step = SMALL_IN_LARGE
            t_a, t_b = piece * share, (piece + step) * share
            if t_b <= t:
                piece += step
                continue
            d_a, d_b = d_start + spacing * t_a, d_start + spacing * t_b
            if highest != line_of:
                line_of = highest
                line, rise = tangent(highest, sine[n * pieces + piece], cosine[n * pieces + piece], h0, re)
                line -= rise * d_a + SLACK_M
            row_low, column_low = row_start + min(down * t_a, down * t_b), column_start + min(across * t_a, across * t_b)
            if step == 1:
                i, j = block_of(row_low, SMALL, small.shape[0]), block_of(column_low, SMALL, small.shape[1])
                top, bottom = small[i, j, 0], small[i, j, 1]
            else:
                i, j = block_of(row_low, LARGE, large.shape[0]), block_of(column_low, LARGE, large.shape[1])
                top, bottom = large[i, j, 0], large[i, j, 1]
            if top <= line + min(rise * d_a, rise * d_b) and (bottom > -np.inf or unknown_from < np.inf):
                if not np.isnan(pending):
                    crest_d[count], crest_slope[count] = pending, highest
                    count += 1
                    pending = np.nan
                piece += step
                continue
            level = top == bottom and bottom > -np.inf and d_b * d_b < 1.9 * re * (h0 - top)
            if step > 1 and not level:
                step = 1
                continue
            piece += step
            # 2. Walk its patches; on level ground before the horizon, where every place is higher than the one before, only the last.
            after_gap = np.isnan(pending)
            if level or t_a > t or t == earliest:
                t = max(t, patch_entry(row_start, down, per_row, column_start, across, per_column, t_b if level else t_a, earliest))
                row_line, column_line = line_after(row_start, down, per_row, t), line_after(column_start, across, per_column, t)
                row_t, column_t = (row_line - row_start) * per_row, (column_line - column_start) * per_column
            while t < t_b:
                after = min(1.0, min(row_t, column_t))
                row_line += row_way if row_t <= after else 0.0
                column_line += column_way if column_t <= after else 0.0
                row_t, column_t = (row_line - row_start) * per_row, (column_line - column_start) * per_column
                down_step, across_step = down * (after - t), across * (after - t)
                row_in, column_in = row_start + down * t, column_start + across * t
                d_in, d_out = d_start + spacing * t, d_start + spacing * after
                row_middle, column_middle = row_in + 0.5 * down_step, column_in + 0.5 * across_step
                z_in = z_level = z_out = d_level = np.nan
                hides = True
                if on_lattice(row_middle, rows) and on_lattice(column_middle, columns):
                    i, j = patch_index(row_middle, rows), patch_index(column_middle, columns)
                    i, south = (along_row, along_row) if along_row >= 0 else (i, i + 1)
                    j, east = (along_column, along_column) if along_column >= 0 else (j, j + 1)
                    corners = float(posts[i, j]), float(posts[i, east]), float(posts[south, j]), float(posts[south, east])
                    if lowest_of(corners) > unknown_below:
                        hides = highest_of(corners) > line + min(rise * d_in, rise * d_out)
                        if hides:
                            z_in, d_level, z_level, z_out = patch_points(
                                corners, row_in - i, column_in - j, down_step, across_step, d_in, d_out, h0, re
                            )
                if hides:
                    for point in range(0 if after_gap else 1, 3):
                        d, z = (d_in, z_in) if point == 0 else (d_level, z_level) if point == 1 else (d_out, z_out)
                        slope = near_slope(d, z, h0, re) if z > line + rise * d else -np.inf
                        if slope > highest:
                            highest, pending = slope, d
                        elif not (np.isnan(pending) or np.isnan(d)):
                            crest_d[count], crest_slope[count] = pending, highest
                            count += 1
                            pending = np.nan
                    after_gap = np.isnan(z_out)
                    if after_gap:
                        unknown_from = min(unknown_from, d_in)
                else:
                    if not np.isnan(pending):
                        crest_d[count], crest_slope[count] = pending, highest
                        count += 1
                        pending = np.nan
                    after_gap = False
                t = after
    return count, unknown_from


@njit(cache=True, nogil=True, error_model="numpy")
def lay_ray(place, knot_row, knot_column, row, column, row_turn, column_turn):
    """Fill the nodes of a ray, and how they move from one knot to the next, from the knots: cubic in the azimuth (Lagrange).

    ``place`` counts knots; line k of the knots is knot k - 1, so that there is one before and there are two after any place.
    """
    k = int(place)
    u = place - k
    a, b = -u * (u - 1.0) * (u - 2.0) / 6.0, (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0
    c, d = -(u + 1.0) * u * (u - 2.0) / 2.0, (u + 1.0) * u * (u - 1.0) / 6.0
    e, f = -((3.0 * u - 6.0) * u + 2.0) / 6.0, ((3.0 * u - 4.0) * u - 1.0) / 2.0
    g, h = -((3.0 * u - 2.0) * u - 2.0) / 2.0, (3.0 * u * u - 1.0) / 6.0
    for n in range(row.size):
        p, q, r, s = knot_row[k, n], knot_row[k + 1, n], knot_row[k + 2, n], knot_row[k + 3, n]
        i = a * p + b * q + c * r + d * s
        row[n] = np.rint(i) if abs(i - np.rint(i)) < ON_LINE else i
        row_turn[n] = e * p + f * q + g * r + h * s
        p, q, r, s = knot_column[k, n], knot_column[k + 1, n], knot_column[k + 2, n], knot_column[k + 3, n]
        j = a * p + b * q + c * r + d * s
        column[n] = np.rint(j) if abs(j - np.rint(j)) < ON_LINE else j
        column_turn[n] = e * p + f * q + g * r + h * s


@njit(cache=True, nogil=True, error_model="numpy")
def ground_gradient(posts, unknown_below, row, column):
    """Rise of the bilinear surface for one step down and for one step across, 0 where one of its four posts is not known."""
    i, j = patch_index(row, posts.shape[0]), patch_index(column, posts.shape[1])
    corners = float(posts[i, j]), float(posts[i, j + 1]), float(posts[i + 1, j]), float(posts[i + 1, j + 1])
    if not lowest_of(corners) > unknown_below:
        return 0.0, 0.0
    north_west, north_east, south_west, south_east = corners
    down, across = row - i, column - j
    return (
        (south_west - north_west) * (1.0 - across) + (south_east - north_east) * across,
        (north_east - north_west) * (1.0 - down) + (south_east - south_west) * down,
    )


@njit(cache=True, nogil=True, error_model="numpy")
def crest_drift(posts, unknown_below, row, column, row_rate, column_rate, row_turn, column_turn, d, slope, re):
    """How fast the slope of a crest changes while the ray turns.

    ``_rate`` is the step over the lattice for each metre along the ray, ``_turn`` for the unit of turning. A crest on a line of the
    lattice keeps to it, and comes nearer or goes farther; any other crest is level along the ray, so that only the rise to the side counts.
    """
    on_row, on_column = abs(row - np.rint(row)) < ON_LINE, abs(column - np.rint(column)) < ON_LINE
    farther = 0.0
    if on_row and row_rate != 0.0:
        farther = -row_turn / row_rate
    elif on_column and column_rate != 0.0:
        farther = -column_turn / column_rate
    down, across = ground_gradient(posts, unknown_below, row, column)
    rise = down * (row_turn + row_rate * farther) + across * (column_turn + column_rate * farther)
    return rise / d - farther * ((slope + d / (2.0 * re)) / d + 1.0 / (2.0 * re))


@njit(cache=True, nogil=True, error_model="numpy")
def keep_worthwhile(crest_d, crest_slope, count, reach, least):
    """Move to the front the crests without which an altitude before the next crest would be ``least`` or more too low. Returns how many."""
    kept = 0
    slope = -np.inf
    for k in range(count):
        until = crest_d[k + 1] if k + 1 < count else reach
        if (crest_slope[k] - slope) * until >= least:
            crest_d[kept], crest_slope[kept] = crest_d[k], crest_slope[k]
            slope = crest_slope[k]
            kept += 1
    return kept


@njit(cache=True, nogil=True, error_model="numpy")
def walk_rays(
    first, last, rays, knot_row, knot_column, posts, unknown_below, small, large, spacing, start, h0, re, sine, cosine, least,
    crests, unknown_from,
):  # fmt: skip
    """Walk rays first to last of a full turn of ``rays``. Fills the number of crests and the start of the unknown of each.

    Returns distances, slopes and drifts (change of slope from one ray to the next) of all crests.
    """
    knots, nodes = knot_row.shape[0] - 3, knot_row.shape[1]
    row, column, row_turn, column_turn = np.empty(nodes), np.empty(nodes), np.empty(nodes), np.empty(nodes)
    most = 3 * sine.size * LARGE
    crest_d, crest_slope = np.empty(most), np.empty(most)
    room = 32 * (last - first)
    distances, slopes, drifts = np.empty(room), np.empty(room, np.float32), np.empty(room, np.float32)
    used = 0
    for k in range(first, last):
        lay_ray(k * knots / rays, knot_row, knot_column, row, column, row_turn, column_turn)
        count, unknown_from[k - first] = walk_ray(
            posts, unknown_below, small, large, row, column, spacing, start, h0, re, sine, cosine, crest_d, crest_slope
        )
        count = keep_worthwhile(crest_d, crest_slope, count, spacing * (nodes - 1), least)
        if used + count > room:
            room = 2 * (used + count)
            distances, slopes, drifts = longer(distances, room), longer(slopes, room), longer(drifts, room)
        for m in range(count):
            d = crest_d[m]
            n = min(int(d / spacing), nodes - 2)
            t = d / spacing - n
            row_step, column_step = row[n + 1] - row[n], column[n + 1] - column[n]
            turn = knots / rays
            drift = crest_drift(
                posts, unknown_below, row[n] + row_step * t, column[n] + column_step * t, row_step / spacing, column_step / spacing,
                (row_turn[n] + (row_turn[n + 1] - row_turn[n]) * t) * turn,
                (column_turn[n] + (column_turn[n + 1] - column_turn[n]) * t) * turn, d, crest_slope[m], re,
            )  # fmt: skip
            distances[used], slopes[used], drifts[used] = d, crest_slope[m], drift
            used += 1
        crests[k - first] = count
    return distances[:used].copy(), slopes[:used].copy(), drifts[:used].copy()


@njit(cache=True, nogil=True, error_model="numpy")
def longer(values, size):
    """Copy an array into the front of a longer one."""
    copy = np.empty(size, values.dtype)
    copy[: values.size] = values
    return copy


@njit(cache=True, nogil=True, error_model="numpy")
def crest_before(first, distance, k, code):
    """Index of the last crest of ray k with a distance less than ``code``, -1 where there is none."""
    low, high = first[k], first[k + 1]
    begin = low
    while low < high:
        middle = (low + high) // 2
        if distance[middle] < code:
            low = middle + 1
        else:
            high = middle
    return low - 1 if low > begin else -1


@njit(cache=True, nogil=True, error_model="numpy")
def slope_between(a, b, a_drift, b_drift, part):
    """Slope between two neighbouring rays, ``part`` of the way from a to b, and whether their drifts explain it.

    A slope is close to straight in the azimuth save for a bend, where the crest crosses a line of posts or another ridge takes over: two
    straight lines, each through its ray. They meet between the rays: bent up, the higher counts, bent down, the lower.
    """
    from_a, from_b = a + a_drift * part, b - b_drift * (1.0 - part)
    bend = b_drift - a_drift
    meet = (a - b + b_drift) / bend if bend != 0.0 else -1.0
    explained = meet >= 0.0 and meet <= 1.0
    return (max(from_a, from_b) if bend > 0.0 else min(from_a, from_b)), explained


@njit(cache=True, nogil=True, error_model="numpy")
def look_up(
    first, distance, slope, drift, unknown_from, distance_unit, drift_unit, bearing, d, ground, start, h0, re,
    altitude, unknown, crest, crest_z,
):  # fmt: skip
    """Fill lowest altitudes in sight, where unknown ground begins, distance and elevation of the crest (NaN: none), for points (n,).

    ``bearing`` in degrees, 0 to 360. ``ground`` is the elevation at the points: no point is seen from below it.
    """
    rays = first.size - 1
    for n in range(d.size):
        place = bearing[n] * rays / 360.0
        k = int(place)
        part = place - k
        a, b = k % rays, (k + 1) % rays
        altitude[n], unknown[n], crest[n], crest_z[n] = -np.inf, np.inf, np.nan, np.nan
        if d[n] <= start:
            continue
        unknown[n] = min(min(unknown_from[a], unknown_from[b]), d[n] if np.isnan(ground[n]) else np.inf)
        i, j = crest_before(first, distance, a, d[n] / distance_unit), crest_before(first, distance, b, d[n] / distance_unit)
        from_a, from_b = -np.inf, -np.inf
        if i >= 0:
            from_a = altitude_on_slope(d[n], slope[i], h0, re)
        if j >= 0:
            from_b = altitude_on_slope(d[n], slope[j], h0, re)
        nearer = j if i < 0 or (j >= 0 and part > 0.5) else i
        if nearer >= 0:
            crest[n] = distance[nearer] * distance_unit
            crest_z[n] = altitude_on_slope(crest[n], slope[nearer], h0, re)
        from_a, from_b = higher_of(from_a, ground[n]), higher_of(from_b, ground[n])
        altitude[n] = from_b if part == 1.0 else from_a if part == 0.0 else from_a * (1.0 - part) + from_b * part
        if i >= 0 and j >= 0 and abs(drift[i]) < LARGEST_DRIFT and abs(drift[j]) < LARGEST_DRIFT:
            between, explained = slope_between(slope[i], slope[j], drift[i] * drift_unit, drift[j] * drift_unit, part)
            if explained:
                altitude[n] = higher_of(altitude_on_slope(d[n], between, h0, re), ground[n])


@njit(cache=True, nogil=True, error_model="numpy")
def higher_of(altitude, ground):
    """Greater of the two, the first where the ground is not known."""
    return ground if ground > altitude else altitude
