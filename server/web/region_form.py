"""The form of a region: from typed text to what is asked for, and back."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from server.errors import InputProblem, Problem
from server.navigation import ConicProjection
from server.persistence import RegionRecord
from server.planning.region_wish import (
    LONGEST_NAME,
    LONGEST_NOTICE,
    USUAL_NOTICE,
    Box,
    GroundFiles,
    GroundWish,
    RegionWish,
    box_problems,
    name_problems,
    proposed_slug,
    slug_problems,
)
from server.terrain import BelowZero, InventedLand
from server.web.forms import FormReader, FormText
from server.web.region_uploads import MOST_FILES, kept_files


class GroundFrom(StrEnum):
    KEEP = "keep"
    INVENTED = "invented"
    FILES = "files"
    NONE = "none"


class Chart(StrEnum):
    FITTED = "fitted"
    GIVEN = "given"


class Levels(StrEnum):
    ICAO = "ICAO"
    US = "US"


class Spacing(StrEnum):
    THREE = "3"
    NINE = "9"


INVENTED_FIELDS = {
    "seed": "1",
    "spacing_s": Spacing.THREE,
    "sea_share": "40",
    "highest_m": "1800",
    "roughness": "50",
    "ridges_true_deg": "30",
}
BLANK_REGION = FormText(
    fields={
        "fictional": "yes",
        "notice": USUAL_NOTICE,
        "projection": Chart.FITTED,
        "level_rule": Levels.ICAO,
        "ground": GroundFrom.INVENTED,
        **INVENTED_FIELDS,
    }
)
PARALLELS = {
    "standard_parallel_1": "First standard parallel",
    "standard_parallel_2": "Second standard parallel",
    "central_parallel": "Parallel of the origin",
}


@dataclass(frozen=True, kw_only=True)
class RegionWords:
    """What can be changed of a region later."""

    name: str
    fictional: bool
    notice: str
    level_rule: str


def read_wish(form: FormText, paths: tuple[Path, ...], *, known: Iterable[Problem] = ()) -> tuple[RegionWish, GroundWish]:
    """Read a whole new region, or raise InputProblem with everything that is wrong. ``known`` problems
    were found elsewhere: a short name that is taken, a sea outline that cannot be read."""
    reader = FormReader(form)
    words = _read_words(reader)
    slug = slug_of(form)
    if form.text("slug").strip() or words.name:
        _refuse(reader, slug_problems(slug))
    _refuse(reader, known)
    box = _read_box(reader)
    projection = _read_projection(reader)
    ground = _read_ground(reader, box, paths, fictional=words.fictional)
    if isinstance(ground, GroundFrom):
        reader.refuse("ground", "Ground: a new region has none yet. Choose where it comes from.")
    reader.finish()
    assert not isinstance(ground, GroundFrom), "it was refused"
    wish = RegionWish(
        slug=slug,
        name=words.name,
        fictional=words.fictional,
        notice=words.notice,
        box=box,
        projection=projection,
        level_rule=words.level_rule,
    )
    return wish, ground


def read_settings(form: FormText, paths: tuple[Path, ...], *, box: Box | None) -> tuple[RegionWords, GroundWish | GroundFrom]:
    """Read the changed words of a region and the ground it is to have; GroundFrom.KEEP is the one it has."""
    reader = FormReader(form)
    words = _read_words(reader)
    if box is None and form.text("ground") == GroundFrom.INVENTED:
        reader.refuse("ground", "Ground: this region has no box, so no ground can be invented for it. Make a new region with a box.")
    ground = _read_ground(reader, box or _NO_BOX, paths, fictional=words.fictional)
    reader.finish()
    return words, ground


_NO_BOX = Box(south_deg=math.nan, north_deg=math.nan, west_deg=math.nan, east_deg=math.nan)


def slug_of(form: FormText) -> str:
    """The short name that is typed, or the one proposed from the name."""
    return form.text("slug").strip().lower() or proposed_slug(form.text("name"))


def settings_form(region: RegionRecord) -> FormText:
    """Write a region into the form of its settings."""
    return FormText(
        fields={
            "name": region.name,
            "fictional": "yes" if region.fictional else "",
            "notice": region.notice or (USUAL_NOTICE if region.fictional else ""),
            "level_rule": region.level_rule,
            "ground": GroundFrom.KEEP,
            **INVENTED_FIELDS,
        }
    )


def with_next_seed(form: FormText) -> FormText:
    """The same form with the seed after the one typed, where that is a number."""
    typed = form.text("seed").strip()
    following = str(int(typed) + 1) if typed.isascii() and typed.isdigit() and len(typed) < 10 else typed
    return FormText(fields={**form.fields, "seed": following})


def _read_words(reader: FormReader) -> RegionWords:
    fictional = reader.checked("fictional")
    notice = reader.text("notice", "Notice", longest=LONGEST_NOTICE)
    if not fictional and notice == USUAL_NOTICE:
        notice = ""  # the wording offered by the form, which a region of real places does not need
    words = RegionWords(
        name=reader.text("name", "Name", longest=LONGEST_NAME, required=True),
        fictional=fictional,
        notice=notice,
        level_rule=reader.required_choice("level_rule", "Rule for levels", Levels).value,
    )
    problems = name_problems(name=words.name, fictional=fictional, notice=notice, level_rule=words.level_rule)
    _refuse(reader, [problem for problem in problems if problem.place == "notice" and len(notice) <= LONGEST_NOTICE])
    return words


def _read_box(reader: FormReader) -> Box:
    box = Box(
        south_deg=reader.latitude("south", "South edge"),
        north_deg=reader.latitude("north", "North edge"),
        west_deg=reader.longitude("west", "West edge"),
        east_deg=reader.longitude("east", "East edge"),
    )
    if _is_read(box):
        _refuse(reader, box_problems(box))
    return box


def _is_read(box: Box) -> bool:
    return all(map(math.isfinite, (box.south_deg, box.north_deg, box.west_deg, box.east_deg)))


def _read_projection(reader: FormReader) -> ConicProjection | None:
    """Read the four given values; None asks for the projection that fits the box."""
    if reader.required_choice("projection", "Chart projection", Chart) is Chart.FITTED:
        return None
    lat_1, lat_2, lat_0 = (reader.latitude(place, label) for place, label in PARALLELS.items())
    lon_0 = reader.longitude("central_meridian", "Central meridian")
    if not all(map(math.isfinite, (lat_1, lat_2, lat_0, lon_0))):
        return None
    try:
        return ConicProjection(lat_1=lat_1, lat_2=lat_2, lat_0=lat_0, lon_0=lon_0)
    except InputProblem as problem:
        reader.refuse("standard_parallel_1", problem.message)
        return None


def _read_ground(reader: FormReader, box: Box, paths: tuple[Path, ...], *, fictional: bool) -> GroundWish | GroundFrom:
    source = reader.required_choice("ground", "Ground", GroundFrom)
    sent = kept_files(reader.form, "terrain")
    if source is GroundFrom.FILES and not sent:
        reader.refuse("terrain_files", "Elevation files: choose one or more files, or one archive of tiles.")
    if source is not GroundFrom.FILES and sent:
        text = "Ground: elevation files were sent, but it is to come from elsewhere. Choose the files, or tick to forget them."
        reader.refuse("ground", text)
    if len(sent) > MOST_FILES:
        reader.refuse(
            "terrain_files", f"Elevation files: {len(sent)} are too many at once; {MOST_FILES} is the most. Pack them into one .zip."
        )
    if source is GroundFrom.FILES:
        below_zero = reader.choice("below_zero", "Ground below sea level", BelowZero) or BelowZero.ASK
        return GroundFiles(paths=paths, below_zero=below_zero)
    if source is GroundFrom.INVENTED:
        return _read_invented(reader, box, fictional=fictional)
    return GroundFrom.KEEP if source is GroundFrom.KEEP else None


def _read_invented(reader: FormReader, box: Box, *, fictional: bool) -> InventedLand | None:
    seed = reader.whole_number("seed", "Seed", lowest=0, highest=2_000_000_000, required=True)
    spacing = reader.required_choice("spacing_s", "Posts apart", Spacing)
    sea_percent = reader.required_number("sea_share", "Share of sea", unit="%", lowest=0, highest=95)
    highest_m = reader.required_number("highest_m", "Highest ground", unit="m", lowest=10, highest=8_000)
    roughness_percent = reader.required_number("roughness", "Roughness", unit="%", lowest=0, highest=100)
    ridges_true_deg = reader.required_number("ridges_true_deg", "Ridges run towards", unit="degrees true", lowest=0, highest=360)
    if not fictional:
        reader.refuse("fictional", "Invented ground is for fictional regions only. Mark the region as fictional, or load real ground.")
    typed = (sea_percent, highest_m, roughness_percent, ridges_true_deg)
    if seed is None or not all(map(math.isfinite, typed)) or not _is_read(box) or any(True for _ in box_problems(box)):
        return None
    try:
        return InventedLand(
            seed=seed,
            south_deg=box.south_deg,
            north_deg=box.north_deg,
            west_deg=box.west_deg,
            east_deg=box.east_deg,
            spacing_s=int(spacing),
            sea_share=sea_percent / 100.0,
            highest_m=highest_m,
            roughness=roughness_percent / 100.0,
            ridges_true_deg=ridges_true_deg,
        )
    except InputProblem as refusal:
        _refuse(reader, refusal.problems)
        return None


def _refuse(reader: FormReader, problems: Iterable[Problem]) -> None:
    for problem in problems:
        reader.refuse(problem.place, problem.message)
