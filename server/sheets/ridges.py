"""The ridges that hide a guiding beacon, gathered from the findings of a log for the chart and the section."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.navigation import distance_nm
from server.planning.log import LogLeg, NavigationLog
from server.radio.reception import Cause, ReceptionState, Ridge
from server.sheets import figures
from server.units import feet_from_metres

ONE_RIDGE_NM = 1.5  # two posts nearer than this are one ridge to a reader


@dataclass(frozen=True, kw_only=True)
class HidingRidge:
    """A ridge, the first leg on which it hides a guiding beacon, and the beacons it hides."""

    ridge: Ridge
    leg: LogLeg
    idents: tuple[str, ...]

    @property
    def words(self) -> str:
        return f"{figures.altitude(feet_from_metres(self.ridge.elevation_m))} hides {' and '.join(self.idents)}"


def hiding_ridges(log: NavigationLog) -> tuple[HidingRidge, ...]:
    """Return the ridges that hide a guiding beacon, each once, in the order of the legs."""
    found: list[HidingRidge] = []
    for leg in log.legs:
        guiding = [part.beacon for part in leg.guidance]
        for reception in (reception for reception in leg.receptions if reception.beacon in guiding):
            for finding in (finding for stretch in reception.stretches for finding in stretch.findings):
                if finding.cause is Cause.TERRAIN and finding.state is ReceptionState.NOT_RECEIVED and finding.ridge is not None:
                    _add_ridge(found, finding.ridge, leg, reception.beacon.ident)
    return tuple(found)


def _add_ridge(found: list[HidingRidge], ridge: Ridge, leg: LogLeg, ident: str) -> None:
    """Add a ridge, or the beacon it hides to a ridge already found there."""
    for index, known in enumerate(found):
        if distance_nm(ridge.position, known.ridge.position) < ONE_RIDGE_NM:
            found[index] = replace(known, idents=tuple(dict.fromkeys((*known.idents, ident))))
            return
    found.append(HidingRidge(ridge=ridge, leg=leg, idents=(ident,)))
