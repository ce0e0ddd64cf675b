"""What must be true of any beacon or airfield, whatever table it comes from.

A value is taken, taken with a warning, or refused; none is repaired.

Knows the rules of the trade, not the columns of a table.
"""

from __future__ import annotations

import re

from server.errors import InputProblem
from server.exchange.reading import Findings, RowProblem
from server.navigation import distance_nm, normalise_ident
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.position import Position
from server.radio import channel_for_vor_khz, is_vor_khz, parse_channel
from server.radio.beacon import BeaconKind, ComponentKind

PARTS_OF_KIND: dict[BeaconKind, tuple[ComponentKind, ...]] = {
    BeaconKind.VOR: (ComponentKind.AZIMUTH,),
    BeaconKind.VOR_DME: (ComponentKind.AZIMUTH, ComponentKind.DISTANCE),
    BeaconKind.VORTAC: (ComponentKind.AZIMUTH, ComponentKind.DISTANCE),
    BeaconKind.TACAN: (ComponentKind.AZIMUTH, ComponentKind.DISTANCE),
    BeaconKind.DME: (ComponentKind.DISTANCE,),
    BeaconKind.NDB: (ComponentKind.BEARING,),
    BeaconKind.NDB_DME: (ComponentKind.BEARING, ComponentKind.DISTANCE),
}
VOR_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC)
PAIRED_ONLY_KINDS = (BeaconKind.TACAN, BeaconKind.DME)
NDB_KINDS = (BeaconKind.NDB, BeaconKind.NDB_DME)

# VOR band and 50 kHz spacing: ICAO Annex 10 Vol I 3.3.2. TACAN channels without a VHF pair are written as 133.30 to 135.95 MHz.
VOR_BAND_KHZ = (108_000, 117_950)
TACAN_UNPAIRED_BAND_KHZ = (133_300, 135_950)
# NDB: 190 to 535 kHz is the usual tuning range of receivers (ICAO Annex 10 Vol I 3.4.4 allows 190 to 1750). In parts of Europe and Asia
# real stations of the open tables stand from 100 to 1800 kHz.
NDB_USUAL_KHZ = (190, 535)
NDB_WIDEST_KHZ = (100, 1800)

LOWEST_ELEVATION_FT, HIGHEST_ELEVATION_FT = -1_500.0, 29_100.0  # the Dead Sea shore to Everest, rounded outward

# Alignments are turned back toward local variation when they are some degrees off; more than this is polar, or a slip.
ALIGNMENT_SUSPICIOUS_DEG = 8.0
TRUE_NORTH_FROM_LATITUDE_DEG = 58.0
DISTANT_DME_NM = 0.3
IMPOSSIBLE_DME_NM = 20.0

LONGEST_NAME = 200
_FIELD_IDENT = re.compile(r"[A-Z0-9][A-Z0-9-]{0,9}")
_CLOSED_NAME = re.compile(r"\(\s*(closed|decomm?iss?ioned|withdrawn)\b", re.IGNORECASE)


def checked_ident(text: str, findings: Findings) -> str:
    """Return the ident as it is sent; refuse what Morse could not send."""
    try:
        ident = normalise_ident(text)
    except InputProblem as problem:
        raise RowProblem(problem.message, code="ident-not-usable") from None
    if ident != text:
        findings.warn("ident-normalised", f"The ident {text!r} is read as {ident}.")
    if len(ident) > 4:
        raise RowProblem(f"The ident {ident} has {len(ident)} characters; a station sends one to four.", code="ident-not-usable")
    if len(ident) == 4:
        findings.warn("ident-of-four", f"The ident {ident} has four characters; beacons send one to three. Listen before you trust it.")
    return ident


def checked_field_ident(text: str, findings: Findings) -> str:
    """Return an airfield's ident in upper case; it is text, be it KBIH, 01CL, US-0001 or 1E5."""
    ident = text.strip().upper()
    if not _FIELD_IDENT.fullmatch(ident):
        raise RowProblem(f"The ident {text[:20]!r} is not 1 to 10 letters A to Z, digits or hyphens.", code="ident-not-usable")
    if ident != text:
        findings.warn("ident-normalised", f"The ident {text!r} is read as {ident}.")
    return ident


def checked_name(text: str, findings: Findings) -> str:
    """Return the name on one line."""
    name = " ".join(text.split())
    if len(name) > LONGEST_NAME:
        raise RowProblem(f"The name has {len(name)} characters, {LONGEST_NAME} is the most.", code="text-too-long")
    if name != text.strip():
        findings.warn("name-on-one-line", f"Line ends or repeated blanks in the name were made single blanks: {name!r}.")
    return name


def says_closed(name: str) -> bool:
    """Whether the name itself says that the station has gone, as some tables write it."""
    return _CLOSED_NAME.search(name) is not None


def checked_position(lat_deg: float | None, lon_deg: float | None, findings: Findings, *, of: str = "position") -> Position:
    """Return the position; refuse a missing or impossible one."""
    if lat_deg is None or lon_deg is None:
        raise RowProblem(f"The {of} is incomplete: latitude and longitude are both needed.", code="position-missing")
    if not -180.0 <= lon_deg <= 180.0:
        raise RowProblem(f"The longitude {lon_deg:g} lies outside -180 to 180 degrees.", code="position-impossible")
    if lat_deg == 0.0 and lon_deg == 0.0:
        raise RowProblem(f"The {of} is latitude 0, longitude 0: that stands for a missing value.", code="position-impossible")
    try:
        position = Position(lat_deg=lat_deg, lon_deg=lon_deg)
    except InputProblem as problem:
        raise RowProblem(problem.message, code="position-impossible") from None
    whole = [f"{name} {value:g}" for name, value in (("latitude", lat_deg), ("longitude", lon_deg)) if value == int(value)]
    if whole:
        text = f"In the {of}, {' and '.join(whole)} {'is a whole number' if len(whole) == 1 else 'are whole numbers'} of degrees"
        findings.warn("position-coarse", f"{text}. If that was rounded, the place may be tens of miles off.")
    return position


def checked_elevation(elevation_ft: float | None, findings: Findings) -> float | None:
    """Return the elevation [ft]; blank stays unknown, below the sea is legal and rare."""
    if elevation_ft is None:
        return None
    if not LOWEST_ELEVATION_FT <= elevation_ft <= HIGHEST_ELEVATION_FT:
        raise RowProblem(f"The elevation {elevation_ft:g} ft is nowhere on land. Leave it blank if unknown.", code="elevation-impossible")
    if elevation_ft < 0.0:
        findings.warn("elevation-below-sea", f"The elevation is {elevation_ft:g} ft, below sea level. Compare it with the terrain.")
    return elevation_ft


def checked_frequency(kind: BeaconKind, frequency_khz: int, findings: Findings) -> int:
    """Return the frequency [kHz] when a station of this kind can have it; refuse it, with a guess for a person, when not."""
    if frequency_khz <= 0:
        raise RowProblem(f"The frequency is {frequency_khz}, which stands for unknown: nothing can be tuned.", code="frequency-unknown")
    if kind in NDB_KINDS:
        return _checked_ndb_frequency(frequency_khz, findings)
    low, high = VOR_BAND_KHZ
    on_vhf = low <= frequency_khz <= high and frequency_khz % 50 == 0
    unpaired = TACAN_UNPAIRED_BAND_KHZ[0] <= frequency_khz <= TACAN_UNPAIRED_BAND_KHZ[1] and frequency_khz % 50 == 0
    if on_vhf:
        if kind in VOR_KINDS and not is_vor_khz(frequency_khz):
            findings.warn("frequency-of-localizer", f"{_mhz(frequency_khz)} is a localizer channel, not one for a VOR. Check it.")
        return frequency_khz
    if unpaired and kind in PAIRED_ONLY_KINDS:
        findings.warn("frequency-beyond-vor", f"{_mhz(frequency_khz)} is above 117.95 MHz: no VOR receiver tunes it.")
        return frequency_khz
    raise RowProblem(
        f"{frequency_khz} kHz is no {kind.value} frequency: they run from 108.00 to 117.95 MHz in steps of 0.05.{_guess(frequency_khz)}",
        code="frequency-out-of-band",
    )


def _checked_ndb_frequency(frequency_khz: int, findings: Findings) -> int:
    low, high = NDB_WIDEST_KHZ
    if not low <= frequency_khz <= high:
        raise RowProblem(
            f"{frequency_khz} kHz is no NDB frequency: they run from {low} to {high} kHz. NDB frequencies are kHz, not MHz.",
            code="frequency-out-of-band",
        )
    if not NDB_USUAL_KHZ[0] <= frequency_khz <= NDB_USUAL_KHZ[1]:
        doubt = " It could also be the MHz of a VOR." if 108 <= frequency_khz <= 118 else ""
        findings.warn("frequency-unusual-for-ndb", f"{frequency_khz} kHz is outside 190 to 535 kHz: not every receiver tunes it.{doubt}")
    return frequency_khz


def _guess(frequency_khz: int) -> str:
    for factor, slip in ((10, "a digit is missing"), (1000, "it is in MHz"), (100, "two digits are missing"), (0.1, "a digit is too many")):
        guess = frequency_khz * factor
        if guess % 50 == 0 and VOR_BAND_KHZ[0] <= guess <= VOR_BAND_KHZ[1]:
            return f" Perhaps {slip} and {_mhz(int(guess))} is meant; correct it at the source."
    return ""


def _mhz(frequency_khz: int) -> str:
    return f"{frequency_khz / 1000:.2f} MHz"


def checked_channel(text: str) -> str:
    """Return a channel as 51Y, without leading zeros; blank stays blank."""
    if not text:
        return ""
    try:
        return parse_channel(text)
    except InputProblem as problem:
        raise RowProblem(problem.message, code="channel-impossible") from None


def check_pairing(*, channel: str, frequency_khz: int | None, findings: Findings) -> None:
    """Warn where a channel and a VHF frequency do not belong together (ICAO Annex 10 Vol I, Table A)."""
    if frequency_khz is None or not VOR_BAND_KHZ[0] <= frequency_khz <= VOR_BAND_KHZ[1] or frequency_khz % 50:
        return
    paired = channel_for_vor_khz(frequency_khz)
    if not channel:
        findings.warn("channel-missing", f"No DME channel is given; {_mhz(frequency_khz)} pairs with {paired}.")
    elif channel != paired:
        findings.warn("channel-not-paired", f"Channel {channel} does not pair with {_mhz(frequency_khz)}, which pairs with {paired}.")


def checked_dme_position(station: Position, dme: Position | None, findings: Findings) -> Position | None:
    """Return where the DME stands when that is not where the station is."""
    if dme is None or dme == station:
        return None
    apart_nm = float(distance_nm(station, dme))
    if apart_nm > IMPOSSIBLE_DME_NM:
        raise RowProblem(
            f"The DME stands {apart_nm:.0f} NM from its station; one of the positions is wrong.", code="dme-position-impossible"
        )
    if apart_nm >= DISTANT_DME_NM:
        findings.warn("dme-elsewhere", f"The DME stands {apart_nm:.1f} NM from the station: distance and bearing have different origins.")
    return dme


def warn_of_odd_alignment(alignment: Alignment, *, position: Position, variation_deg: float | None, findings: Findings) -> None:
    """Flag an alignment that a person should look at: far from the local variation, or perhaps true north. It is not changed."""
    declination_deg = alignment.declination_deg
    if declination_deg is None or alignment.kind is not AlignmentKind.MAGNETIC or variation_deg is None:
        return
    if (
        abs(declination_deg) < 0.5
        and abs(variation_deg) > ALIGNMENT_SUSPICIOUS_DEG
        and abs(position.lat_deg) > TRUE_NORTH_FROM_LATITUDE_DEG
    ):
        findings.warn(
            "alignment-perhaps-true",
            f"The alignment is 0 where the local variation is {variation_deg:+.1f} degrees (east positive), so far north or south that the "
            "station may be aligned to true north. It is kept as published.",
        )
        return
    apart_deg = abs((declination_deg - variation_deg + 180.0) % 360.0 - 180.0)
    if apart_deg > ALIGNMENT_SUSPICIOUS_DEG:
        findings.warn(
            "alignment-far-from-variation",
            f"The alignment {declination_deg:+g} is {apart_deg:.0f} degrees from the local variation {variation_deg:+.1f} (east positive). "
            "It may be aligned to true or grid north, or wrong. It is kept as published.",
        )
