"""The log as JSON for other programs: every value as computed, unrounded, with its unit in the field's name.

Strict JSON: a number that is not finite is written as null, never as NaN or Infinity.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime
from enum import Enum
from typing import Any

from server.planning.crossing_lines import CrossingLine
from server.planning.expected_picture import ExpectedPicture
from server.planning.gaps import Gap
from server.planning.log import FuelPlan, NavigationLog
from server.planning.lost_strip import LostStrip
from server.planning.passage import Passage

FORMAT = "beaconry-log-1"
"""Changes when a field changes its meaning or goes away; new fields may come without a change."""

DERIVED: Mapping[type, tuple[str, ...]] = {
    CrossingLine: ("weak",),
    ExpectedPicture: ("heard",),
    FuelPlan: ("needed_l", "landing_l", "landing_at_alternate_l"),
    Gap: ("length_nm", "off_at_end_nm"),
    LostStrip: ("weak",),
    NavigationLog: ("stops", "warnings"),
    Passage: ("minutes_in_cone", "guides_on", "changes_course", "reversed_if_not_changed"),
}
"""What follows from a value's fields and is printed too, so that it is written with them."""


def log_as_dict(log: NavigationLog) -> dict[str, Any]:
    """Return the log as plain dicts, lists, texts, numbers and None."""
    return {"format": FORMAT, **_plain(log)}


def log_as_json(log: NavigationLog) -> bytes:
    """Return the log as UTF-8 JSON."""
    return json.dumps(log_as_dict(log), ensure_ascii=True, allow_nan=False, indent=1).encode()


def _plain(value: Any) -> Any:
    """Turn frozen values into JSON's own; ASCII-escaped on writing, so that any text a user typed survives."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if is_dataclass(value):
        names = (*(field.name for field in fields(value)), *DERIVED.get(type(value), ()))
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return _plain(value.item())  # a NumPy scalar
