"""Compiled loops of diffraction over a profile: ITU-R P.526, delta-Bullington.

Floats and arrays only; server/radio/diffraction.py holds the docstrings a user of these needs and the sources. This module loads numba:
import it inside functions. Nothing here calls a kernel of another module: numba's cache would not notice a change there.

Numbers in brackets are equations of ITU-R P.526-15. Symbols, all in metres: d distances along the profile and z its elevations (n,), or
d alone the length of the path; tx, rx altitudes of the two antennas; h1, h2 their heights over smooth ground; ae effective radius of the
earth; lam wavelength. eps relative permittivity, sigma conductivity [S/m], k admittance of the ground, v knife-edge parameter. Losses: dB.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def knife_edge_loss(v):
    """Loss behind one knife edge. (31)"""
    if not v > -0.78:
        return 0.0
    return 6.9 + 20.0 * math.log10(math.sqrt((v - 0.1) ** 2 + 1.0) + v - 0.1)


@njit(cache=True, nogil=True)
def knife_edge_parameter(height, d1, d2, lam):
    """Height of an edge over the straight line between two antennas, d1 and d2 away, as a pure number. (26)"""
    return height * math.sqrt(2.0 / lam * (1.0 / d1 + 1.0 / d2))


@njit(cache=True, nogil=True)
def ground_admittance(ae, lam, eps, sigma, vertical):
    """Normalised admittance of the ground for a polarisation. (11), (12)"""
    loss_term = 60.0 * lam * sigma
    k = (2.0 * math.pi * ae / lam) ** (-1.0 / 3.0) * ((eps - 1.0) ** 2 + loss_term**2) ** (-0.25)  # (11)
    return k * math.sqrt(eps**2 + loss_term**2) if vertical else k  # (12)


@njit(cache=True, nogil=True)
def distance_term(x):
    """Gain F(X) by normalised distance. (17)"""
    if x >= 1.6:
        return 11.0 + 10.0 * math.log10(x) - 17.6 * x  # (17a)
    return -20.0 * math.log10(x) - 5.6488 * x**1.425  # (17b)


@njit(cache=True, nogil=True)
def height_term(b, k):
    """Gain G(Y) by normalised antenna height, b = beta Y. (18)"""
    least = 2.0 + 20.0 * math.log10(k)
    if b > 2.0:
        gain = 17.6 * math.sqrt(b - 1.1) - 5.0 * math.log10(b - 1.1) - 8.0  # (18)
    elif b > 0.0:
        gain = 20.0 * math.log10(b + 0.1 * b**3)  # (18a)
    else:
        return least
    return max(gain, least)


@njit(cache=True, nogil=True)
def over_horizon_loss(d, h1, h2, ae, lam, eps, sigma, vertical):
    """Loss over a smooth earth beyond the horizon, first term of the residue series; negative where the series does not hold. (13)"""
    k = ground_admittance(ae, lam, eps, sigma, vertical)
    beta = (1.0 + 1.6 * k**2 + 0.67 * k**4) / (1.0 + 4.5 * k**2 + 1.53 * k**4)  # (16)
    x = beta * d * (math.pi / (lam * ae**2)) ** (1.0 / 3.0)  # (14)
    y_per_metre = 2.0 * beta * (math.pi**2 / (lam**2 * ae)) ** (1.0 / 3.0)  # (15)
    return -distance_term(x) - height_term(beta * y_per_metre * h1, k) - height_term(beta * y_per_metre * h2, k)  # (13)


@njit(cache=True, nogil=True)
def nearest_ground(d, h1, h2, ae):
    """Where a smooth earth comes nearest to a ray that clears it: distances to both ends, height of the ray there. (22)"""
    m = d**2 / (4.0 * ae * (h1 + h2))  # (22e)
    c = (h1 - h2) / (h1 + h2)  # (22d)
    turn = max(-1.0, min(1.0, 1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3)))
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + math.acos(turn) / 3.0)  # (22c)
    d1 = 0.5 * d * (1.0 + b)  # (22a)
    d2 = d - d1  # (22b)
    return d1, d2, ((h1 - d1**2 / (2.0 * ae)) * d2 + (h2 - d2**2 / (2.0 * ae)) * d1) / d  # (22)


@njit(cache=True, nogil=True)
def spherical_earth_loss(d, h1, h2, ae, lam, eps, sigma, vertical):
    """Loss over a smooth earth at any distance. P.526 section 3.2"""
    root = math.sqrt(h1) + math.sqrt(h2)
    if d >= math.sqrt(2.0 * ae) * root:  # (21)
        return max(0.0, over_horizon_loss(d, h1, h2, ae, lam, eps, sigma, vertical))
    d1, d2, clearance = nearest_ground(d, h1, h2, ae)
    needed = 0.552 * math.sqrt(max(0.0, d1 * d2 * lam / d))  # (23)
    if clearance > needed:
        return 0.0
    part = clearance / needed if needed > 0.0 else 0.0
    grazing_radius = 0.5 * (d / root) ** 2  # (24)
    at_grazing = max(0.0, over_horizon_loss(d, h1, h2, grazing_radius, lam, eps, sigma, vertical))
    return (1.0 - part) * at_grazing  # (25)


@njit(cache=True, nogil=True)
def horizon_slopes(d, z, tx, rx, ae):
    """Steepest slope from each antenna to the profile, on the curved earth. (50), (54)"""
    length = d[-1]
    from_tx = from_rx = -np.inf
    for i in range(1, d.size - 1):
        behind, ahead = d[i], length - d[i]
        if behind > 0.0 and ahead > 0.0:
            raised = z[i] + behind * ahead / (2.0 * ae)
            from_tx = max(from_tx, (raised - tx) / behind)  # (50)
            from_rx = max(from_rx, (raised - rx) / ahead)  # (54)
    return from_tx, from_rx


@njit(cache=True, nogil=True)
def highest_parameter(d, z, tx, rx, ae, lam):
    """Greatest knife-edge parameter of all points of a profile. (52)"""
    length = d[-1]
    highest = -np.inf
    for i in range(1, d.size - 1):
        behind, ahead = d[i], length - d[i]
        if behind > 0.0 and ahead > 0.0:
            raised = z[i] + behind * ahead / (2.0 * ae) - (tx * ahead + rx * behind) / length
            highest = max(highest, knife_edge_parameter(raised, behind, ahead, lam))
    return highest


@njit(cache=True, nogil=True)
def bullington_loss(d, z, tx, rx, ae, lam):
    """Loss behind the one edge where the two horizons meet, with the correction for real profiles. P.526 section 4.5.1"""
    length = d[-1]
    from_tx, from_rx = horizon_slopes(d, z, tx, rx, ae)
    if from_tx < (rx - tx) / length:  # (51): the path is clear
        v = highest_parameter(d, z, tx, rx, ae, lam)
    elif from_tx + from_rx > 0.0:
        d1 = (rx - tx + from_rx * length) / (from_tx + from_rx)  # (55)
        d2 = length - d1
        v = knife_edge_parameter(tx + from_tx * d1 - (tx * d2 + rx * d1) / length, d1, d2, lam)  # (56)
    else:
        v = 0.0  # the ground touches the straight line
    edge = knife_edge_loss(v)  # (53), (57)
    return edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * length / 1000.0)  # (58)


@njit(cache=True, nogil=True)
def fitted_ground(d, z):
    """Elevations at both ends of the straight line that fits a profile best. P.526 section 4.5.2"""
    length = d[-1]
    v1 = v2 = 0.0
    for i in range(1, d.size):
        step = d[i] - d[i - 1]
        v1 += step * (z[i] + z[i - 1])
        v2 += step * (z[i] * (2.0 * d[i] + d[i - 1]) + z[i - 1] * (d[i] + 2.0 * d[i - 1]))
    return (2.0 * v1 * length - v2) / length**2, (v2 - v1 * length) / length**2


@njit(cache=True, nogil=True)
def obstruction(d, z, tx, rx):
    """Greatest height of a profile over the straight line between the antennas, and its greatest slope from each end. Section 4.5.2"""
    length = d[-1]
    height = from_tx = from_rx = -np.inf
    for i in range(1, d.size - 1):
        behind, ahead = d[i], length - d[i]
        if behind > 0.0 and ahead > 0.0:
            over = z[i] - (tx * ahead + rx * behind) / length
            height = max(height, over)
            from_tx = max(from_tx, over / behind)
            from_rx = max(from_rx, over / ahead)
    return height, from_tx, from_rx


@njit(cache=True, nogil=True)
def effective_heights(d, z, tx, rx):
    """Heights of both antennas over the smooth ground that stands for the profile. P.526 section 4.5.2"""
    at_tx, at_rx = fitted_ground(d, z)
    height, from_tx, from_rx = obstruction(d, z, tx, rx)
    if height > 0.0:
        at_tx -= height * from_tx / (from_tx + from_rx)
        at_rx -= height * from_rx / (from_tx + from_rx)
    return tx - min(at_tx, z[0]), rx - min(at_rx, z[-1])


@njit(cache=True, nogil=True)
def delta_bullington(d, z, tx, rx, ae, lam, eps, sigma, vertical):
    """Total loss, Bullington over the profile, Bullington over smooth ground, spherical earth, both effective heights. Section 4.5.2"""
    h1, h2 = effective_heights(d, z, tx, rx)
    actual = bullington_loss(d, z, tx, rx, ae, lam)
    smooth = bullington_loss(d, np.zeros(d.size), h1, h2, ae, lam)
    spherical = spherical_earth_loss(d[-1], h1, h2, ae, lam, eps, sigma, vertical)
    return actual + max(spherical - smooth, 0.0), actual, smooth, spherical, h1, h2
