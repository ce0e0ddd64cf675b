"""Directions: folding, differences, opposites, true and magnetic. Every direction of the project is held as 0 <= x < 360 degrees."""

from __future__ import annotations

import math

import numpy as np

from server.navigation.validity import plain


def fold_deg(direction_deg):
    """Fold directions into 0 <= x < 360. Scalars give a float, arrays an array.

    A tiny negative number would come out of the remainder as 360.0; it becomes 0.
    """
    folded = np.mod(direction_deg, 360.0)
    return plain(np.where(folded >= 360.0, 0.0, folded))


def difference_deg(a_deg, b_deg):
    """Return how far a lies clockwise of b, in -180 < x <= 180. [deg]"""
    turned = fold_deg(np.subtract(a_deg, b_deg))
    return plain(np.where(np.greater(turned, 180.0), np.subtract(turned, 360.0), turned))


def reciprocal_deg(direction_deg):
    """Return the opposite direction. [deg]"""
    return fold_deg(np.add(direction_deg, 180.0))


def three_digits(direction_deg: float) -> str:
    """Write a direction the way it is flown: whole degrees rounded half up, three digits, 360 for north.

    What arithmetic leaves below a millionth of a degree is taken off first, so that 92.49999999999999 is 92.5.
    """
    return f"{math.floor(round(fold_deg(direction_deg), 6) + 0.5) % 360 or 360:03d}"


def magnetic_from_true_deg(true_deg, variation_deg):
    """Turn a true direction into a magnetic one; variation is positive east: "east is least". [deg]"""
    return fold_deg(np.subtract(true_deg, variation_deg))


def true_from_magnetic_deg(magnetic_deg, variation_deg):
    """Turn a magnetic direction into a true one; variation is positive east. [deg]"""
    return fold_deg(np.add(magnetic_deg, variation_deg))
