"""The check of a region: what is wrong, doubtful or old in its beacons, airfields and checkpoints on a day, before anyone flies on it.

Everything is kept as published; here it is held against the rules of the trade, the terrain, the magnetic model and itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date

from server.navigation import Airfield, Checkpoint, Route
from server.persistence import Library, RegionRecord, stored
from server.planning.materials import Clock, open_ground, utc_now
from server.planning.region_check_beacons import beacon_findings
from server.planning.region_check_channels import shared_channel_findings, shared_ident_findings, twin_findings
from server.planning.region_check_places import Elevations, Thing, low_ground_findings, place_findings
from server.planning.region_findings import FindingLevel, RegionFinding, subject_of
from server.planning.route_users import RoutesInUse, routes_in_use
from server.radio import Beacon, Ground
from server.terrain import LowGround, Terrain, TerrainStore

NOT_CHECKED = (
    "whether a station is really on the air, and today's notices: read them before flight",
    "names, idents and frequencies against any other table than this region's own",
    "stations on a channel beyond this region, and how terrain or antenna patterns part two on one channel",
    "bearings and distances in the air: only a flight check tells bends, swings and false courses",
    "runways, obstacles, airspace, opening hours and fuel",
    "whether a checkpoint can be seen, and whether it is still there",
)
"""What this check does not look at, in words."""


@dataclass(frozen=True, kw_only=True)
class CheckedRegion:
    """A region on a day, and what was found, worst first."""

    region: RegionRecord
    on: date
    findings: tuple[RegionFinding, ...]
    beacons: int
    airfields: int
    checkpoints: int
    routes: RoutesInUse

    def count(self, level: FindingLevel) -> int:
        """How many findings there are of a level."""
        return sum(finding.level is level for finding in self.findings)

    def groups(self) -> dict[tuple[FindingLevel, str], tuple[RegionFinding, ...]]:
        """The findings of one level and code together, in the order of their first."""
        grouped: dict[tuple[FindingLevel, str], list[RegionFinding]] = {}
        for finding in self.findings:
            grouped.setdefault((finding.level, finding.code), []).append(finding)
        return {group: tuple(found) for group, found in grouped.items()}

    def users(self, finding: RegionFinding) -> tuple[Route, ...]:
        """The routes that use anything the finding speaks of."""
        named = (subject for subject in (finding.subject, *finding.others) if subject.number is not None)
        routes = (route for subject in named for route in self.routes.get((subject.kind, subject.number or 0), ()))
        return tuple({route.id: route for route in routes}.values())


def check_region(
    *,
    region: RegionRecord,
    beacons: Sequence[Beacon],
    airfields: Sequence[Airfield],
    checkpoints: Sequence[Checkpoint],
    ground: Ground,
    on: date,
    low_ground: LowGround | None = None,
) -> tuple[RegionFinding, ...]:
    """Hold a region against the rules, the terrain, the magnetic model of the day, and itself.

    ``low_ground`` is what of the ground was taken as land and may be sea floor.

    Returns
    -------
    tuple of RegionFinding
        Warnings before advice; within a level what concerns the whole region, then beacons, airfields, checkpoints in the order given.
    """
    elevations = Elevations.of(ground, (*beacons, *airfields, *checkpoints))
    found = [
        *low_ground_findings(region, low_ground),
        *place_findings(region, beacons, airfields, checkpoints, elevations),
        *beacon_findings(beacons, elevations, on=on),
        *shared_ident_findings(beacons),
        *twin_findings(beacons),
        *shared_channel_findings(beacons, elevations),
    ]
    things: tuple[Thing, ...] = (*beacons, *airfields, *checkpoints)
    order = {subject_of(thing): at for at, thing in enumerate(things)}
    levels = list(FindingLevel)

    def rank(finding: RegionFinding) -> tuple[int, int, str]:
        return (levels.index(finding.level), order.get(finding.subject, -1), finding.code)

    return tuple(sorted(found, key=rank))


def checked_region(library: Library, terrain_store: TerrainStore, slug: str, *, clock: Clock = utc_now) -> CheckedRegion:
    """Check a region of the library as it is today, and name the routes that use what was found."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        beacons = work.beacons.list(stored(region.id))
        airfields = work.airfields.list(stored(region.id))
        checkpoints = work.checkpoints.list(stored(region.id))
        routes = work.routes.list(stored(region.id))
    on = clock().astimezone(UTC).date()
    ground = open_ground(terrain_store, region.ground_fingerprint)
    findings = check_region(
        region=region,
        beacons=beacons,
        airfields=airfields,
        checkpoints=checkpoints,
        ground=ground,
        on=on,
        low_ground=ground.doubtful if isinstance(ground, Terrain) else None,
    )
    return CheckedRegion(
        region=region,
        on=on,
        findings=findings,
        beacons=len(beacons),
        airfields=len(airfields),
        checkpoints=len(checkpoints),
        routes=routes_in_use(routes),
    )
