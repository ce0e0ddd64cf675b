"""Asks the line of sight what flight inspection has answered: is a VOR received all along an airway at its minimum en-route altitude?

Run: python -m tests.validation.airways FOLDER

FOLDER holds airway_segments.csv, beacons.csv and terrain/ (elevation files). A published MEA gives navigation signal coverage along the
whole segment in its direction (14 CFR 95.1): at or above the lower of its two directions one of the VORs that define the segment must be
received at every point. Only the line of sight with its band is judged. Inspected airways may run beyond a station's published class; how
many points do is printed beside. The last line of the output is one JSON object.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from pathlib import Path

from server.errors import InputProblem, ProjectError
from server.terrain import BelowZero, TerrainStore
from tests.validation.airway_folder import Segment, read_segments
from tests.validation.airway_sight import INCONCLUSIVE, MARGINAL, NOT_RECEIVED, RECEIVED, STEP_NM, Point, Validation, look_along
from tests.validation.computed_minimum import ComputedMinimum, computed_minima, rank_correlation

DROPS_FT = (1000, 2000, 3000, 4000, 5000)
TIGHTEST_SHOWN = 10
NAMES_SHOWN = 20


def counts_of(points: tuple[Point, ...]) -> dict[str, int]:
    """Count points by their state at the MEA."""
    states = Counter(point.state for point in points)
    return {
        "points": len(points),
        "received": states[RECEIVED],
        "marginal": states[MARGINAL],
        "not_received": states[NOT_RECEIVED],
        "inconclusive": states[INCONCLUSIVE],
    }


def figures_of(validation: Validation) -> dict:
    """Sum up a validation: states, margins, and the share of the conclusive points that is still received further down.

    ``share_received_below`` counts points clear of the band, ``share_in_sight_below`` those in sight with k 4/3. null: no such point.
    """
    points = validation.whole
    conclusive = [point for point in points if point.state is not INCONCLUSIVE]
    beyond_band_ft = [point.mea_ft - point.best.seen_ft for point in conclusive if point.best]

    def share(holds: Callable[[Point, int], bool]) -> dict[str, float | None]:
        total = len(conclusive)
        return {str(drop): round(sum(holds(point, drop) for point in conclusive) / total, 4) if total else None for drop in DROPS_FT}

    return {
        **counts_of(points),
        "share_received_below": share(lambda point, drop_ft: point.state_at(point.mea_ft - drop_ft) is RECEIVED),
        "share_in_sight_below": share(lambda point, drop_ft: point.margin_ft >= drop_ft),
        "tightest_margin_ft": _tightest_ft(point.margin_ft for point in conclusive),
        "tightest_margin_beyond_band_ft": _tightest_ft(beyond_band_ft),
        "received_beyond_class": sum(_beyond_class(point) for point in points),
        "untested_segments": sum(len(names) for names in validation.untested.values()),
        "partly_on_terrain": counts_of(validation.partly),
    }


def figures_of_minima(minima: list[ComputedMinimum]) -> dict:
    """How many computed minima lie above the published MEA, and how both rank the segments."""
    correlation = rank_correlation([each.altitude_ft for each in minima], [each.mea_ft for each in minima])
    return {
        "computed_segments": len(minima),
        "computed_above_mea": sum(each.altitude_ft > each.mea_ft for each in minima),
        "rank_correlation": None if correlation is None else round(correlation, 4),
    }


def words_of_minima(minima: list[ComputedMinimum], left_out: list[str], figures: dict) -> list[str]:
    """Tell the computed minima in lines of words."""
    above = [each for each in minima if each.altitude_ft > each.mea_ft]
    lines = [
        f"Computed minimum (highest post within 4 NM and 2,000 ft, or the lowest altitude surely in sight) of {len(minima)} segments: "
        f"{figures['computed_above_mea']} above the published MEA; rank correlation {figures['rank_correlation']}.",
        *(
            f"  {each.segment.name}: computed {each.altitude_ft:,.0f} ft (ground {each.ground_ft:,.0f}, reception "
            f"{each.reception_ft:,.0f}), published {each.mea_ft:,.0f}"
            for each in above
        ),
    ]
    return [*lines, *([f"Not computed ({len(left_out)}): {_listed(left_out)}"] if left_out else [])]


def _tightest_ft(margins_ft: Iterable[float]) -> int | None:
    """The smallest of those margins that are numbers: beside a station nothing hides it, and behind a wall no height may help."""
    return min((round(margin_ft) for margin_ft in margins_ft if math.isfinite(margin_ft)), default=None)


def _beyond_class(point: Point) -> bool:
    """Whether the point is received, and every station received there is so beyond its published class."""
    heard = [look for look in point.known if point.mea_ft >= look.seen_ft]
    return bool(heard) and all(look.in_class is False for look in heard)


def words_of(validation: Validation, figures: dict) -> list[str]:
    """Tell a validation in lines of words."""
    points = validation.whole
    by_segment: dict[Segment, list[Point]] = defaultdict(list)
    for point in points:
        by_segment[point.segment].append(point)
    return [
        f"{len(by_segment)} segments wholly on the terrain, {len(points)} points about every {STEP_NM:g} NM, at the lower MEA of each:",
        f"{figures['received']:6}  received: clear of the band of one of its VORs",
        f"{figures['marginal']:6}  marginal: inside the band",
        f"{figures['not_received']:6}  not received",
        f"{figures['inconclusive']:6}  inconclusive: not received from the VORs that are known, and another is not known",
        "Only the line of sight is judged. Airways are flight-inspected beyond the published class of a station: "
        f"{figures['received_beyond_class']} of the points received lie outside the class of every VOR received there.",
        *_lower_down(figures),
        *_tightest(by_segment),
        *_told_one_by_one(points),
        *_doubts(by_segment),
        *_partly(validation.partly),
        *(f"Segments not counted, {reason} ({len(names)}): {_listed(names)}" for reason, names in validation.untested.items()),
    ]


def _lower_down(figures: dict) -> list[str]:
    if figures["share_received_below"][str(DROPS_FT[0])] is None:
        return ["No point is conclusive."]
    rows = zip(DROPS_FT, figures["share_received_below"].values(), figures["share_in_sight_below"].values(), strict=True)
    return [
        "Below the MEA, share of the conclusive points that is received, and that is in sight with k 4/3:",
        *(f"  {drop_ft:,} ft lower  {received:6.1%}  {in_sight:6.1%}" for drop_ft, received, in_sight in rows),
    ]


def _tightest(by_segment: dict[Segment, list[Point]]) -> list[str]:
    conclusive = [[point for point in group if point.state is not INCONCLUSIVE] for group in by_segment.values()]
    tightest = [min(group, key=lambda point: point.margin_ft) for group in conclusive if group]
    hidden = sorted((point for point in tightest if math.isfinite(point.margin_ft)), key=lambda point: point.margin_ft)
    return ["Tightest point of each segment, the tightest first:", *(f"  {_told(point)}" for point in hidden[:TIGHTEST_SHOWN])]


def _told_one_by_one(points: tuple[Point, ...]) -> list[str]:
    lines = []
    for state in (NOT_RECEIVED, MARGINAL):
        told = [f"  {_told(point)}" for point in points if point.state is state]
        lines += [f"{state.value.capitalize()}:", *told] if told else []
    return lines


def _told(point: Point) -> str:
    look = point.best
    if look is None:
        return f"{point.segment.name} at {point.along_nm:.1f} NM: {point.doubt}"
    margin_ft = point.mea_ft - look.lowest_ft
    beyond = f", beyond its class {look.station.service_class}" if look.in_class is False else ""
    return (
        f"{point.segment.name} at {point.along_nm:.1f} NM: MEA {point.mea_ft:,.0f} ft, {abs(margin_ft):,.0f} ft "
        f"{'above' if margin_ft >= 0.0 else 'below'} the line of sight to {look.station.ident} ({look.distance_nm:.1f} NM{beyond}; "
        f"band {look.hidden_ft:,.0f} to {look.seen_ft:,.0f} ft); in the way: {look.ridge}"
    )


def _doubts(by_segment: dict[Segment, list[Point]]) -> list[str]:
    """Say per segment which points are not conclusive, and why."""
    lines = []
    for segment, group in by_segment.items():
        reasons: dict[str, list[Point]] = defaultdict(list)
        for point in group:
            if point.state is INCONCLUSIVE:
                reasons[point.doubt].append(point)
        for doubt, unsure in reasons.items():
            lines.append(f"  {segment.name}: {len(unsure)} from {unsure[0].along_nm:.1f} to {unsure[-1].along_nm:.1f} NM: {doubt}")
    return ["Points that are not conclusive, and why:", *lines] if lines else []


def _partly(points: tuple[Point, ...]) -> list[str]:
    if not points:
        return []
    counts = ", ".join(f"{count} {state.replace('_', ' ')}" for state, count in counts_of(points).items() if state != "points")
    return [
        f"Not counted above: {len(points)} points on the terrain, of segments that are not wholly on it: {counts}",
        *_told_one_by_one(points),
    ]


def _listed(names: list[str]) -> str:
    more = [f"and {len(names) - NAMES_SHOWN} more"] if len(names) > NAMES_SHOWN else []
    return ", ".join(names[:NAMES_SHOWN] + more)


def run(folder: Path, report: Callable[[str], None]) -> list[str]:
    """Validate a folder and return the lines to print, the JSON object last."""
    segments = read_segments(folder)
    if not (folder / "terrain").is_dir():
        raise InputProblem(f"There is no folder terrain in {folder}.")
    with tempfile.TemporaryDirectory() as scratch:
        store = TerrainStore(Path(scratch))
        load = store.load(
            [folder / "terrain"],
            below_zero=BelowZero.SEA,
            on_progress=lambda progress: report(f"{progress.doing} ({progress.done}/{progress.total})"),
        )
        for refused in load.refused:
            report(f"{refused.name} was left out: {refused.reason}")
        ground = store.open(load.fingerprint)
        validation = look_along(segments, ground, report)
        report("Computing the minimum of each segment")
        minima, left_out = computed_minima(validation.whole, ground)
    figures = figures_of(validation) | figures_of_minima(minima)
    return [*words_of(validation, figures), *words_of_minima(minima, left_out, figures), json.dumps(figures)]


def main(arguments: list[str] | None = None) -> int:
    """Run from the command line; 0, or 2 where the folder cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.airways", description="Check the line of sight against airways.")
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="holds airway_segments.csv, beacons.csv and terrain/")
    folder = parser.parse_args(arguments).folder
    try:
        lines = run(folder, lambda message: print(message, file=sys.stderr, flush=True))
    except ProjectError as problem:
        print(f"airways: {' '.join(problem.message.split())}", file=sys.stderr)
        return 2
    except OSError as error:
        print(f"airways: {error.filename or 'The scratch folder'}: {error.strerror or error}.", file=sys.stderr)
        return 2
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
