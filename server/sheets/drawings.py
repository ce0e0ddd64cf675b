"""From a planned route to its two drawings, the chart and the section."""

from __future__ import annotations

from functools import lru_cache

from server.planning import PlannedRoute
from server.radio import off_the_air_on
from server.sheets.chart import ChartInput, route_chart_svg
from server.sheets.section import SectionCurve, route_section_svg

DRAWINGS_KEPT = 16


def chart_input(planned: PlannedRoute) -> ChartInput:
    """Gather what a chart of a planned route shows."""
    return ChartInput(
        log=planned.log,
        projection=planned.projection,
        ground=planned.ground,
        beacons=planned.beacons,
        airfields=planned.airfields,
        checkpoints=planned.checkpoints,
        estimated_declination_deg=planned.materials.estimated_declination_deg,
        off_the_air=tuple(beacon for beacon in planned.beacons if off_the_air_on(beacon, planned.materials.on)),
    )


@lru_cache(maxsize=DRAWINGS_KEPT)
def chart_of(planned: PlannedRoute) -> str:
    """Draw the chart of a planned route as SVG."""
    return route_chart_svg(chart_input(planned))


@lru_cache(maxsize=DRAWINGS_KEPT)
def section_of(planned: PlannedRoute) -> str:
    """Draw the section along a planned route as SVG."""
    curves = tuple(
        SectionCurve(
            beacon_ident=curve.beacon.ident,
            distance_nm=curve.start_nm + curve.survey.sample_nm,
            lowest_altitude_ft=curve.survey.lowest_altitude_ft,
        )
        for curve in planned.curves
    )
    return route_section_svg(planned.log, planned.ground, curves=curves)
