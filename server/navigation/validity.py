"""How formulas answer: a scalar question gets a plain float, and a value outside the formula's range is refused or NaN."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from server.errors import OutOfRange


def plain(value):
    """Return a plain float for a single number, an array for an array."""
    return np.asarray(value) if np.ndim(value) else float(value)


def checked(value, *, valid, error: Callable[[], OutOfRange]):
    """Return ``value`` where ``valid`` holds: a scalar raises ``error()`` where it does not, an array holds NaN there."""
    if np.ndim(value) == 0 and np.ndim(valid) == 0:
        if not valid:
            raise error()
        return float(value)
    return np.where(valid, value, np.nan)
