"""What a row of the route table says: the name of a point, and which beacon is heard where on the leg that leads to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.navigation import PointKind, Route, RoutePoint, three_digits
from server.planning import NavigationLog
from server.planning.log import LogLeg, LogPoint
from server.planning.route_shelf import Choices
from server.radio import Cause, ReceptionState, Stretch
from server.sheets import figures, words

OVERHEAD = "overhead"
"""Said of the cone over a station: nothing is wrong there, and the flag comes back in a moment."""


@dataclass(frozen=True, kw_only=True)
class HeardPart:
    """One beacon in one state along a part of a leg, in words."""

    ident: str
    state: str
    where: str


SHORTEST_TOLD_NM = 0.05
"""A shorter piece would read as beginning where it ends."""


@dataclass(frozen=True, kw_only=True)
class GuidedPiece:
    """A part of a leg that one beacon guides in one state. Distances from the start of the leg. [NM]"""

    ident: str
    word: str
    state: ReceptionState
    from_nm: float
    to_nm: float


def guided_pieces(leg: LogLeg) -> tuple[GuidedPiece, ...]:
    """Tell for each beacon that guides the leg in which state it is over the part it guides, neighbours of one state joined."""
    joined: list[GuidedPiece] = []
    for guidance in leg.guidance:
        heard = [one for one in leg.receptions if one.beacon == guidance.beacon and one.component is guidance.component]
        for stretch in heard[0].stretches if heard else ():
            from_nm, to_nm = max(stretch.from_nm, guidance.from_nm), min(stretch.to_nm, guidance.to_nm)
            if to_nm <= from_nm:
                continue
            ident, word = guidance.beacon.ident, state_word(stretch)
            if joined and (joined[-1].ident, joined[-1].word) == (ident, word):
                joined[-1] = replace(joined[-1], to_nm=to_nm)
            else:
                joined.append(GuidedPiece(ident=ident, word=word, state=stretch.state, from_nm=from_nm, to_nm=to_nm))
    return tuple(piece for piece in joined if piece.to_nm - piece.from_nm >= SHORTEST_TOLD_NM)


def heard_parts(leg: LogLeg) -> tuple[HeardPart, ...]:
    """Write the pieces of a leg in words."""
    return tuple(HeardPart(ident=each.ident, state=each.word, where=_where(leg, each.from_nm, each.to_nm)) for each in guided_pieces(leg))


@dataclass(frozen=True, kw_only=True)
class StripPart:
    """A stretch of a leg for a strip of states: its state, and its share of the leg. [percent]"""

    state: str
    share: float


def strip_parts(leg: LogLeg) -> tuple[StripPart, ...]:
    """Return the stretches of a leg, the best of its beacons counting, with their shares of it."""
    whole = max(leg.distance_nm, 1e-6)
    parts = [part for part in words.joined_by_state(leg.stretches) if part.length_nm > 0.0]
    return tuple(StripPart(state=str(part.state).replace(" ", "-"), share=round(100.0 * part.length_nm / whole, 2)) for part in parts)


def state_word(stretch: Stretch) -> str:
    """Say the state of a stretch; of the cone over a station, that one is overhead."""
    ruling = [finding.cause for finding in stretch.findings if finding.state is stretch.state]
    return OVERHEAD if ruling and set(ruling) == {Cause.OVERHEAD_CONE} else words.STATE_WORDS[stretch.state]


def _where(leg: LogLeg, from_nm: float, to_nm: float) -> str:
    whole = from_nm <= 0.0 and to_nm >= leg.distance_nm - 1e-6
    return "the whole leg" if whole else f"{figures.distance(from_nm)} to {figures.distance_nm(to_nm)}"


def tuned(leg: LogLeg) -> list[str]:
    """What is tuned on a leg, in order, each station once: "KEV 113.35 MHz"."""
    return list(dict.fromkeys(f"{part.beacon.ident} {figures.frequency(part.beacon)}" for part in leg.guidance))


def stops_of(route: Route, choices: Choices, log: NavigationLog | None) -> tuple[str, ...]:
    """Name every point of a route: as its log does, or, where it cannot be planned, from what the region holds."""
    if log is not None:
        return tuple(_point_words(point) for point in log.points)
    airfields = {airfield.id: f"{airfield.ident} {airfield.name}" for airfield in choices.airfields}
    ends = [airfields.get(number, "an airfield that is gone") for number in (route.departure_airfield_id, route.destination_airfield_id)]
    return (ends[0], *(_drawn_words(point, choices) for point in route.points), ends[1])


def _point_words(point: LogPoint) -> str:
    return " ".join(part for part in (point.ident, point.name) if part)


def _drawn_words(point: RoutePoint, choices: Choices) -> str:
    places = {
        PointKind.AIRFIELD: {one.id: f"{one.ident} {one.name}" for one in choices.airfields},
        PointKind.BEACON: {one.id: f"{one.ident} {one.name}" for one in choices.beacons},
        PointKind.CHECKPOINT: {one.id: one.name for one in choices.checkpoints},
    }
    radials = ((point.beacon_id, point.radial_deg), (point.second_beacon_id, point.second_radial_deg))
    idents = {beacon.id: beacon.ident for beacon in choices.beacons}
    fix = " / ".join(f"R-{three_digits(radial)} {idents.get(number, '?')}" for number, radial in radials if radial is not None)
    made = f"{fix}, {figures.distance_nm(point.distance_nm)}" if point.distance_nm is not None else fix
    position = figures.position(point.position) if point.position is not None else ""
    return point.name or places.get(point.kind, {}).get(point.place_id, "") or made or position or f"{point.kind} fix"
