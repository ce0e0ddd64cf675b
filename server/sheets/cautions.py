"""The standing words of every sheet: the caution, the notice of a fictional region, what an OFF flag can mean, what is not checked."""

CAUTION = (
    "For planning and training. Check current charts, notices and beacon status before flight. "
    "The pilot in command and the local rules decide."
)

FICTIONAL_NOTICE = "FICTIONAL REGION: invented beacons, ground and airfields. Not for navigation."

NOT_CHECKED = "Not checked by this plan: airspace, obstacles, weather, and reflections or bending of the signal near high ground."

# The five meanings: FAA-H-8083-15 (weak signal, not tuned, overhead, abeam the selected course), gathered in plain words.
OFF_FLAG_MEANINGS = (
    "too low, or the ground is in the way",
    "too far from the station",
    "wrong frequency, or the station is not on the air (no Morse, no use)",
    "over the station: hold heading until the flag settles",
    "abeam: the station is about 90° from the selected course",
)

OFF_FLAG_TITLE = "What an OFF flag can mean"

LOST_TITLE = "Not sure where you are"

# Order and content: common practice. 121.5 MHz: ICAO Annex 10 volume V, 4.1.3.1. 7700: ICAO Doc 4444, 8.5.2.2.
LOST_STEPS = (
    "Hold a heading, note the time, and climb if you can: higher up more beacons are heard.",
    "Tune the first beacon of the leg you are on and listen to its Morse. Turn the course until the needle stands in the middle with FROM: "
    "the number set is the radial you are on.",
    "Do the same with the second. Draw both radials outward from their stations, by the roses on the chart: you are where they cross.",
    "With a DME, the distance along the radial is enough.",
    "If that does not help, say so early: the frequency you are on, or 121.5 MHz; transponder 7700 in distress.",
)


def in_one_line(*, fictional: bool, notice: str = "") -> str:
    """Return what a file says of its region: that it is invented, what its maker wants said of it, and the caution."""
    return " ".join(part for part in (FICTIONAL_NOTICE if fictional else "", notice, CAUTION) if part)
