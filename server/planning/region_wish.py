"""What a person asks of a new region, and everything that can be wrong with it. No file and no database here.

The place of a problem is the field it speaks of: slug, name, notice, fictional, south, north, west, east, level_rule.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import shapely

from server.errors import Problem
from server.navigation import ConicProjection
from server.persistence import RegionRecord
from server.terrain import BelowZero, InventedLand

USUAL_NOTICE = "This region is invented. Its land, stations, airfields and frequencies do not exist. Not for navigation."
LEVEL_RULES = ("ICAO", "US")
NOT_A_SLUG = ("own", "nasr", "ourairports", "new", "load-file")
"""Names of sources of tables and of pages, which a region may not take."""

LONGEST_SLUG, LONGEST_NAME, LONGEST_NOTICE = 40, 80, 400
LEAST_SIDE_DEG, MOST_HIGH_DEG, MOST_WIDE_DEG = 0.1, 40.0, 80.0
FARTHEST_NORTH_DEG = 85.0
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)


@dataclass(frozen=True, kw_only=True)
class GroundFiles:
    """Elevation files, or archives of several, on this machine."""

    paths: tuple[Path, ...]
    below_zero: BelowZero = BelowZero.ASK
    """What connected ground below zero is, where a person has said it."""


GroundWish = InventedLand | GroundFiles | None
"""Where the ground is to come from; None is no ground, which stays unknown."""


@dataclass(frozen=True, kw_only=True)
class Box:
    """The edges of a region. [deg] One whose west is greater than its east crosses the antimeridian."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float

    @property
    def wide_deg(self) -> float:
        """How wide the box is. [deg]"""
        return self.east_deg - self.west_deg + (360.0 if self.west_deg > self.east_deg else 0.0)

    @property
    def high_deg(self) -> float:
        """How high the box is, negative where its edges are in the wrong order. [deg]"""
        return self.north_deg - self.south_deg

    def meets(self, shape: shapely.Geometry) -> bool:
        """Tell whether a shape of longitudes and latitudes, -180 to 180, has a part in the box."""
        spans = [(self.west_deg, self.east_deg)] if self.west_deg <= self.east_deg else [(self.west_deg, 180.0), (-180.0, self.east_deg)]
        return any(shape.intersects(shapely.box(west, self.south_deg, east, self.north_deg)) for west, east in spans)

    def fitted_projection(self) -> ConicProjection:
        """Return the projection that fits the box."""
        return ConicProjection.for_bounds(south=self.south_deg, north=self.north_deg, west=self.west_deg, east=self.east_deg)


@dataclass(frozen=True, kw_only=True)
class RegionWish:
    """A region as it is to be. ``projection`` None is the one that fits the box."""

    slug: str
    name: str
    fictional: bool
    notice: str
    box: Box
    projection: ConicProjection | None
    level_rule: str

    def record(self) -> RegionRecord:
        """Return the region as it is kept, still without ground."""
        chart = self.projection or self.box.fitted_projection()
        return RegionRecord(
            slug=self.slug,
            name=self.name.strip(),
            fictional=self.fictional,
            notice=self.notice.strip(),
            **asdict(self.box),
            standard_parallel_1_deg=chart.lat_1,
            standard_parallel_2_deg=chart.lat_2,
            central_meridian_deg=chart.lon_0,
            central_parallel_deg=chart.lat_0,
            level_rule=self.level_rule,
        )


def proposed_slug(name: str) -> str:
    """Turn a name into a short name: "Skerry Sound" -> "skerry-sound". Empty where no letter of it can be used."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:LONGEST_SLUG].strip("-")


def box_problems(box: Box) -> Iterator[Problem]:
    """Tell what is wrong with a box: edges in the wrong order, too small, too large, too near a pole."""
    wide_deg, high_deg = box.wide_deg, box.high_deg
    if not box.south_deg < box.north_deg:
        yield Problem(
            place="south",
            message=f"South edge: {box.south_deg:g} must be less than the north edge, {box.north_deg:g}. North counts positive.",
        )
    elif high_deg < LEAST_SIDE_DEG:
        yield Problem(place="north", message=f"The box is {high_deg:g} degrees high; {LEAST_SIDE_DEG:g} is the least.")
    elif high_deg > MOST_HIGH_DEG:
        yield Problem(place="north", message=f"The box is {high_deg:g} degrees high; {MOST_HIGH_DEG:g} is the most.")
    if wide_deg == 0.0:
        text = "East edge: it is the same as the west edge, so the box has no width. 180 W and 180 E are one line."
        yield Problem(place="east", message=text)
    elif wide_deg < LEAST_SIDE_DEG:
        yield Problem(place="east", message=f"The box is {wide_deg:g} degrees wide; {LEAST_SIDE_DEG:g} is the least.")
    elif wide_deg > MOST_WIDE_DEG:
        text = f"The box is {wide_deg:g} degrees wide; {MOST_WIDE_DEG:g} is the most."
        crosses = " With west greater than east it goes round by 180 degrees; were the two swapped?" if box.west_deg > box.east_deg else ""
        yield Problem(place="east", message=text + crosses)
    for place, edge_deg in (("south", box.south_deg), ("north", box.north_deg)):
        if abs(edge_deg) > FARTHEST_NORTH_DEG:
            text = f"The {place} edge, {edge_deg:g}, lies beyond {FARTHEST_NORTH_DEG:g} degrees: a conic chart does not hold near a pole."
            yield Problem(place=place, message=text)


def name_problems(*, name: str, fictional: bool, notice: str, level_rule: str) -> Iterator[Problem]:
    """Tell what is wrong with the words of a region, which can be changed later."""
    if not name.strip():
        yield Problem(place="name", message="Name: give the region a name for people.")
    elif len(name) > LONGEST_NAME:
        yield Problem(place="name", message=f"Name: {len(name)} characters are too many, {LONGEST_NAME} is the most.")
    if fictional and not notice.strip():
        yield Problem(place="notice", message="Notice: it is needed, because the region is fictional and must say so in its own words.")
    if not fictional and notice.strip():
        yield Problem(place="notice", message="Notice: only a fictional region has one. Mark the region as fictional, or leave this empty.")
    if len(notice) > LONGEST_NOTICE:
        yield Problem(place="notice", message=f"Notice: {len(notice)} characters are too many, {LONGEST_NOTICE} is the most.")
    if level_rule not in LEVEL_RULES:
        yield Problem(place="level_rule", message=f"Rule for levels: choose one of {', '.join(LEVEL_RULES)}.")


def slug_problems(slug: str) -> Iterator[Problem]:
    """Tell what is wrong with a short name by itself."""
    if slug in NOT_A_SLUG:
        text = f'Short name: "{slug}" is kept for a page or for a source of tables. Choose another, such as {slug}-area.'
        yield Problem(place="slug", message=text)
    elif not slug:
        yield Problem(place="slug", message="Short name: none could be made from the name. Type one, such as north-coast.")
    elif len(slug) > LONGEST_SLUG or not _SLUG.fullmatch(slug):
        text = f'Short name: "{slug[:60]}" cannot be used. Use up to {LONGEST_SLUG} small letters a to z, digits and single hyphens.'
        yield Problem(place="slug", message=text)


def invented_ground_problems(*, fictional: bool, ground: object) -> Iterator[Problem]:
    """Invented ground under real places would be taken for real."""
    if isinstance(ground, InventedLand) and not fictional:
        yield Problem(
            place="fictional", message="Invented ground is for fictional regions only. Mark the region as fictional, or load real ground."
        )


def region_problems(wish: RegionWish, ground: GroundWish) -> tuple[Problem, ...]:
    """Tell everything that is wrong with what is asked of a new region and its ground."""
    return (
        *slug_problems(wish.slug),
        *name_problems(name=wish.name, fictional=wish.fictional, notice=wish.notice, level_rule=wish.level_rule),
        *box_problems(wish.box),
        *invented_ground_problems(fictional=wish.fictional, ground=ground),
    )
