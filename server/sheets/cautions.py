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
