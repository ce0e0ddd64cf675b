"""What is counted, what is not, and on which side the error of each answer lies: the page "How cautious is it?" in rows.

The figures come from the modules that use them, so the page cannot say another one than the program counts with.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.planning.leg_levels import MARGINS_FT
from server.radio.band import STANDARD_DOUBT
from server.radio.reception import Cause
from server.radio.sight import ASSUMED_ANTENNA_HEIGHT_M
from server.units import feet_from_metres


class Side(StrEnum):
    """Where the truth may lie, seen from the answer."""

    SAFE = "safe side"
    """The world is as good as the answer, or better."""
    EITHER = "either side"
    HOPEFUL = "hopeful side"
    """The world may be worse than the answer: look for yourself."""


@dataclass(frozen=True, kw_only=True)
class CautionRow:
    """One thing that an answer rests on."""

    subject: str
    counted: str
    """What the program does with it."""
    side: Side
    left: str
    """What can still be wrong, and what to do about it."""
    causes: tuple[Cause, ...] = ()
    """The causes of a reception state that it stands behind."""


def _feet(metres: float) -> str:
    return f"{feet_from_metres(metres):.0f} ft"


COUNTED = (
    CautionRow(
        subject="Ground in the way",
        counted="Every post of the loaded ground that the signal's path crosses. The sea is level. "
        "Ground that is not loaded makes the answer not known.",
        side=Side.EITHER,
        left="Posts cut sharp summits and know no trees and no masts; "
        f"{_feet(STANDARD_DOUBT.ground_error_m)} are allowed for that, not more.",
        causes=(Cause.TERRAIN, Cause.TERRAIN_UNKNOWN),
    ),
    CautionRow(
        subject="Bending of the air",
        counted=f"The earth taken {STANDARD_DOUBT.weak_k:g} to {STANDARD_DOUBT.strong_k:g} times as large: clear of all of it is received, "
        "in between is marginal.",
        side=Side.SAFE,
        left="A few days a year lie outside, mostly over warm sea.",
    ),
    CautionRow(
        subject="Published volume",
        counted="Beyond it a station is not promised, even where it is in sight. "
        "No class published: the smallest is taken, and marginal is the best answer.",
        side=Side.SAFE,
        left="You may hear it farther out. Do not rely on it.",
        causes=(Cause.OUTSIDE_VOLUME, Cause.BELOW_VOLUME, Cause.CLASS_UNKNOWN, Cause.OVERHEAD_CONE),
    ),
    CautionRow(
        subject="Restrictions, status",
        counted="Sectors and outages that are entered. Restricted with none entered, or status unknown: marginal at best.",
        side=Side.HOPEFUL,
        left="Today's notices are not read. No Morse ident, no use.",
        causes=(
            Cause.UNUSABLE_SECTOR,
            Cause.OUTAGE,
            Cause.OUT_OF_SERVICE,
            Cause.WITHDRAWN,
            Cause.STATUS_UNKNOWN,
            Cause.RESTRICTED,
            Cause.NIGHT,
            Cause.NO_SUCH_COMPONENT,
            Cause.NOT_FOR_VOR_RECEIVER,
        ),
    ),
    CautionRow(
        subject="Strength of the signal",
        counted="Free space and diffraction over the ground against the least field of ICAO Annex 10. It can only make an answer worse.",
        side=Side.EITHER,
        left="Powers that nobody publishes are those common for the class. Coverage maps leave it out.",
        causes=(Cause.WEAK_FIELD,),
    ),
    CautionRow(
        subject="Antenna",
        counted=f"Published height, else {_feet(ASSUMED_ANTENNA_HEIGHT_M)} give or take "
        f"{_feet(STANDARD_DOUBT.antenna_error_m)}, and said so.",
        side=Side.SAFE,
        left="A station that was moved stands where its table says.",
        causes=(Cause.ANTENNA_ASSUMED, Cause.ELEVATION_ESTIMATED),
    ),
    CautionRow(
        subject="A station's north",
        counted="Its own alignment. Not published, or in contradiction to the day's variation: estimated, and no more than that.",
        side=Side.EITHER,
        left="Position checks allow 5°, and more where the north is estimated.",
    ),
    CautionRow(
        subject="Height above the sea",
        counted="The true one, from the altimeter setting and the temperature, wherever a height meets ground or a signal. What you fly is "
        "printed as the altimeter shows it.",
        side=Side.EITHER,
        left="Without a temperature cold air is not counted: in cold air you are lower than you read.",
    ),
    CautionRow(
        subject="Safe altitude",
        counted=f"Highest ground beside the leg and round its ends, {MARGINS_FT[False]:,.0f} ft above it, {MARGINS_FT[True]:,.0f} in "
        "mountains. A planned level below is warned of.",
        side=Side.HOPEFUL,
        left="Masts, lines, trees and airspace are not known. Look at the chart.",
    ),
    CautionRow(
        subject="Heading, time, fuel",
        counted="The wind, the air and the tables you gave, the day's variation, the compass card.",
        side=Side.EITHER,
        left="A wind 10 kt out is common. Check groundspeed and fuel at every beacon.",
    ),
)
"""In the order in which a leg is judged."""

NOT_COUNTED = (
    "reflections and bending of the signal near high ground and buildings",
    "weather, night lighting and runway state",
    "airspace and danger areas",
    "obstacles and trees",
    "today's notices",
    "errors of your own receiver and compass beyond the card",
)
"""Left out altogether; the error lies on the hopeful side."""
