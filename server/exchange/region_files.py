"""Read and write what describes a region beside its tables, region.toml. All problems of a file are reported at once.

slug = "skerry"                      short name in addresses: a to z, 0 to 9, hyphens
name = "Skerry Sound"
fictional = true
notice = "..."                       printed on every page and sheet of a fictional region
south_deg, north_deg, west_deg, east_deg        the box; west may be greater than east across 180
standard_parallel_1_deg, standard_parallel_2_deg, central_meridian_deg, central_parallel_deg    its conformal conic projection
                                     a region may be without a box, or without a projection: then all four are absent
level_rule = "ICAO"                  or "US"
source = "..."
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any

from server.exchange.toml_fields import TomlFields, toml_table, toml_text
from server.exchange.toml_writing import toml_lines

LEVEL_RULES = ("ICAO", "US")
BOX = {"south_deg": 90.0, "north_deg": 90.0, "west_deg": 180.0, "east_deg": 180.0}
PROJECTION = {
    "standard_parallel_1_deg": 89.0,
    "standard_parallel_2_deg": 89.0,
    "central_meridian_deg": 180.0,
    "central_parallel_deg": 90.0,
}
"""Fields that are given together or not at all, with the greatest value of each, north or south, east or west."""
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True, kw_only=True, slots=True)
class RegionDescription:
    """What region.toml says of a region: its box and its chart projection [deg]; None where the region has none."""

    slug: str
    name: str
    fictional: bool
    notice: str
    south_deg: float | None
    north_deg: float | None
    west_deg: float | None
    east_deg: float | None
    standard_parallel_1_deg: float | None
    standard_parallel_2_deg: float | None
    central_meridian_deg: float | None
    central_parallel_deg: float | None
    level_rule: str
    source: str


def read_region(content: bytes, *, name: str) -> RegionDescription:
    """Read region.toml, or raise InputProblem with everything that is wrong in it."""
    text = toml_text(content, name=name)
    fields = TomlFields(toml_table(text, name=name), text, name)
    values: dict[str, Any] = {
        "slug": fields.text("slug", required=True, longest=40),
        "name": fields.text("name", required=True, longest=80),
        "fictional": fields.yes_or_no("fictional"),
        "notice": fields.text("notice"),
        "level_rule": fields.text("level_rule") or LEVEL_RULES[0],
        "source": fields.text("source"),
        **_all_or_none(fields, BOX),
        **_all_or_none(fields, PROJECTION),
    }
    if values["slug"] and not _SLUG.fullmatch(values["slug"]):
        fields.refuse("slug", "may hold a to z, 0 to 9 and single hyphens only")
    if values["level_rule"] not in LEVEL_RULES:
        fields.refuse("level_rule", f"can be {' or '.join(LEVEL_RULES)}")
    if None not in (values["south_deg"], values["north_deg"]) and values["south_deg"] >= values["north_deg"]:
        fields.refuse("south_deg", "must be less than north_deg")
    if values["fictional"] and not values["notice"]:
        fields.refuse("notice", "is needed, because the region is fictional and every sheet must say so")
    parallels = (values["standard_parallel_1_deg"], values["standard_parallel_2_deg"])
    if None not in parallels and abs(sum(parallels)) < 0.1:
        fields.refuse("standard_parallel_1_deg", "and standard_parallel_2_deg must not mirror each other across the equator")
    fields.finish()
    return RegionDescription(**values)


def write_region(description: RegionDescription) -> bytes:
    """Write region.toml, which read_region reads back without loss."""
    return toml_lines(asdict(description)).encode("utf-8")


def _all_or_none(fields: TomlFields, greatest: dict[str, float]) -> dict[str, float | None]:
    if all(fields.take(name, None) is None for name in greatest):
        return dict.fromkeys(greatest)
    return {name: fields.number(name, -most, most) for name, most in greatest.items()}
