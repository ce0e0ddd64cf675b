"""One way to refuse a value outside a formula's range: a scalar raises, an array holds NaN there."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from server.errors import OutOfRange


def checked(value, *, valid, error: Callable[[], OutOfRange]):
    """Return ``value`` where ``valid`` holds.

    A scalar comes back as a plain float, or ``error()`` is raised. An array comes back with NaN where ``valid`` fails.
    """
    if np.ndim(value) == 0 and np.ndim(valid) == 0:
        if not valid:
            raise error()
        return float(value)
    return np.where(valid, value, np.nan)
