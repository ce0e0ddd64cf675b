"""Make a region, change it, remove it.

The terrain store is filled first, since it is named by content and can be filled twice without harm; the region follows in one transaction.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from server.errors import NotFound, Problem
from server.persistence import Library, RegionRecord, stored
from server.planning.region_ground import MADE_FROM_A_SEED, ground_in_words, keep_ground, read_outline, refused_region
from server.planning.region_wish import Box, GroundWish, RegionWish, invented_ground_problems, name_problems, region_problems
from server.terrain import TerrainLoad, TerrainStore

KEEP: Literal["keep"] = "keep"
"""Leave the ground, or the sea, as it is."""


@dataclass(frozen=True, kw_only=True)
class MadeRegion:
    """A region as it is now kept. ``files`` tells what became of elevation files; None where none were given."""

    region: RegionRecord
    files: TerrainLoad | None


def make_region(
    library: Library, terrain_store: TerrainStore, wish: RegionWish, *, ground: GroundWish = None, sea: bytes = b""
) -> MadeRegion:
    """Make a new region with its ground.

    Parameters
    ----------
    ground : InventedLand, GroundFiles or None
        Without any, the ground stays unknown.
    sea : GeoJSON
        The outline of the sea: void posts inside become 0, and coasts are told from it. Empty where none is given.

    Raises
    ------
    InputProblem
        With everything that is wrong, each beside its field; nothing has been stored then.
    """
    problems = [*region_problems(wish, ground)]
    outline, of_the_sea = read_outline(sea, wish.box)
    problems += [*slug_taken(library, wish.slug), *of_the_sea]
    if problems:
        raise refused_region(problems)
    fingerprint, files = keep_ground(terrain_store, ground, outline)
    region = replace(wish.record(), source=ground_in_words(ground), sea_geojson=sea.decode("utf-8-sig"), ground_fingerprint=fingerprint)
    with library.begin() as work:
        return MadeRegion(region=work.regions.add(region), files=files)


def change_region(
    library: Library,
    terrain_store: TerrainStore,
    slug: str,
    *,
    name: str,
    fictional: bool,
    notice: str,
    level_rule: str,
    ground: GroundWish | Literal["keep"] = KEEP,
    sea: bytes | Literal["keep"] = KEEP,
) -> MadeRegion:
    """Change the words of a region and, where asked, replace its ground or its sea. Its box and its short name stay.

    New elevation files are filled with the sea that the region has then.
    """
    with library.read() as work:
        region = work.regions.by_slug(slug)
    sea_content = region.sea_geojson.encode() if sea == KEEP else sea
    outline, problems = read_outline(sea_content, box_of(region))
    still_invented = ground if ground != KEEP else None
    problems += name_problems(name=name, fictional=fictional, notice=notice, level_rule=level_rule)
    problems += invented_ground_problems(fictional=fictional, ground=still_invented)
    if ground == KEEP and not fictional and region.source.startswith(MADE_FROM_A_SEED):
        problems.append(Problem(place="fictional", message="Its ground was invented from a seed, so the region must stay fictional."))
    if problems:
        raise refused_region(problems)
    fingerprint, files, source = region.ground_fingerprint, None, region.source
    if ground != KEEP:
        fingerprint, files = keep_ground(terrain_store, ground, outline)
        source = ground_in_words(ground) or ("" if source.startswith(MADE_FROM_A_SEED) else source)
    with library.begin() as work:
        region = replace(
            work.regions.by_slug(slug),
            name=name.strip(),
            fictional=fictional,
            notice=notice.strip(),
            level_rule=level_rule,
            sea_geojson=sea_content.decode("utf-8-sig"),
            ground_fingerprint=fingerprint,
            source=source,
        )
        return MadeRegion(region=work.regions.update(region), files=files)


def slug_taken(library: Library, slug: str) -> tuple[Problem, ...]:
    """Tell whether a region has this short name already."""
    try:
        with library.read() as work:
            present = work.regions.by_slug(slug)
    except NotFound:
        return ()
    text = f'Short name: "{slug}" is that of {present.name} already. Choose another.'
    return (Problem(place="slug", message=text, code="region-exists"),)


def sea_problems(content: bytes) -> tuple[Problem, ...]:
    """Tell what is wrong with a sea outline by itself; an empty one is none."""
    return tuple(read_outline(content, None)[1])


def holdings_of(library: Library, slug: str) -> tuple[RegionRecord, str]:
    """Return a region and, in words, all that stands in it and would go with it."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        number = stored(region.id)
        counts = {
            "beacon": work.beacons.count(number),
            "airfield": work.airfields.count(number),
            "checkpoint": work.checkpoints.count(number),
            "route": len(work.routes.list(number)),
        }
    held = [f"{count} {what}{'' if count == 1 else 's'}" for what, count in counts.items() if count]
    return region, ", ".join(held[:-1]) + (" and " if len(held) > 1 else "") + held[-1] if held else ""


def remove_region(library: Library, slug: str) -> None:
    """Remove a region with all that stands in it. Its ground stays in the terrain store, where others may share it."""
    with library.begin() as work:
        work.regions.remove(stored(work.regions.by_slug(slug).id))


def box_of(region: RegionRecord) -> Box | None:
    """Return the box of a region; None where it was given none."""
    edges = (region.south_deg, region.north_deg, region.west_deg, region.east_deg)
    if edges[0] is None or edges[1] is None or edges[2] is None or edges[3] is None:
        return None
    return Box(south_deg=edges[0], north_deg=edges[1], west_deg=edges[2], east_deg=edges[3])
