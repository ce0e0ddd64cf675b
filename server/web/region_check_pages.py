"""The check of a region as a page: what was found, worst first, each with the way to its card and the routes that use it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter

from server.navigation import Route
from server.planning.region_check import NOT_CHECKED, CheckedRegion, checked_region
from server.planning.region_findings import TITLE_OF_CODE, FindingLevel, RegionFinding, Subject, SubjectKind
from server.web.desk import AtDesk
from server.web.pages import Page

SHOWN = 100
"""The page shows so many findings of a group; the counts are always whole."""


@dataclass(frozen=True, kw_only=True)
class FindingRow:
    """One finding as the page shows it."""

    finding: RegionFinding
    path: str
    """Address of the subject's card; empty for the region itself."""
    others: tuple[tuple[str, str], ...]
    """The other things it speaks of: label and address of the card."""
    routes: tuple[Route, ...]
    """The routes that use what it speaks of."""


@dataclass(frozen=True, kw_only=True)
class FindingGroup:
    """Findings of one kind."""

    id: str
    title: str
    level: FindingLevel
    count: int
    rows: tuple[FindingRow, ...]
    """The first of them."""


@dataclass(frozen=True, kw_only=True)
class RegionCheckPage(Page):
    template: ClassVar[str] = "region_check.html"
    groups: tuple[FindingGroup, ...]
    """What was found, worst first."""
    counted: str
    """What was looked at and found, in words."""
    on: str
    """The day of the check."""
    not_checked: tuple[str, ...]
    """What was not looked at."""
    at: str
    """Address of the region."""


def _path(slug: str, subject: Subject) -> str:
    return "" if subject.kind is SubjectKind.REGION else f"/regions/{slug}/{subject.kind}s/{subject.number}"


def _row(checked: CheckedRegion, finding: RegionFinding) -> FindingRow:
    slug = checked.region.slug
    others = tuple((other.label, _path(slug, other)) for other in finding.others)
    return FindingRow(finding=finding, path=_path(slug, finding.subject), others=others, routes=checked.users(finding))


def _page(checked: CheckedRegion) -> RegionCheckPage:
    groups = tuple(
        FindingGroup(
            id=f"{level}-{code}",
            title=TITLE_OF_CODE[code],
            level=level,
            count=len(found),
            rows=tuple(_row(checked, finding) for finding in found[:SHOWN]),
        )
        for (level, code), found in checked.groups().items()
    )
    return RegionCheckPage(
        title="Check of the region",
        section="workshop",
        region=checked.region,
        groups=groups,
        counted=counted_in_words(checked),
        on=checked.on.isoformat(),
        not_checked=NOT_CHECKED,
        at=f"/regions/{checked.region.slug}",
    )


def counted_in_words(checked: CheckedRegion) -> str:
    """Say what was looked at and how much was found."""
    warnings, pieces = checked.count(FindingLevel.WARNING), checked.count(FindingLevel.ADVICE)
    return (
        f"{checked.beacons} beacons, {checked.airfields} airfields and {checked.checkpoints} checkpoints were checked: "
        f"{warnings} {'warning' if warnings == 1 else 'warnings'}, {pieces} {'piece' if pieces == 1 else 'pieces'} of advice."
    )


def region_check_router() -> APIRouter:
    """The check of a region."""
    router = APIRouter(prefix="/regions/{slug}")

    @router.get("/check")
    def check(desk: AtDesk, slug: str):
        return desk.pages.show(_page(checked_region(desk.library, desk.terrain_store, slug, clock=desk.clock)))

    return router
