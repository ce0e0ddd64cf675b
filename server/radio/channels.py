"""VOR frequencies and the channels that DME and TACAN share with them. Frequencies are whole kilohertz, as beacons hold them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from server.errors import InputProblem, OutOfRange

LOWEST_VOR_KHZ = 108_000
HIGHEST_VOR_KHZ = 117_950
_SPACING_KHZ = 50
_LOCALIZERS_END_KHZ = 112_000
_LOW_BAND_END_KHZ = 112_300  # from here on the pairing skips channels 60 to 69
_CHANNEL = re.compile(r"0*(?P<number>[1-9][0-9]{0,2})(?P<mode>[XYxy]?)")


@dataclass(frozen=True, kw_only=True, slots=True)
class DmePair:
    """A DME channel and its two frequencies: what the aircraft sends, what the ground answers on. [MHz]"""

    channel: str
    interrogation_mhz: int
    reply_mhz: int


def is_vor_khz(frequency_khz: int) -> bool:
    """Tell whether a frequency is a VOR's: 108.00 to 117.95 MHz in steps of 50 kHz, below 112 only even tenths (and even tenths + 0.05).

    References
    ----------
    ICAO Annex 10 Vol I 3.3.2 and Vol V 4.2. Odd tenths below 112 MHz belong to ILS localizers.
    """
    if not _is_paired_khz(frequency_khz):
        return False
    return frequency_khz >= _LOCALIZERS_END_KHZ or frequency_khz // 100 % 2 == 0


def channel_for_vor_khz(frequency_khz: int) -> str:
    """Return the DME or TACAN channel paired with a VOR frequency, like "82X". Localizer frequencies have channels too.

    References
    ----------
    ICAO Annex 10 Vol I, Table A; 14 CFR 171.311, Table 1b. Checked: tests/reference/test_channel_pairing.py.
    """
    if not _is_paired_khz(frequency_khz):
        raise OutOfRange(
            f"{frequency_khz / 1000:.3f} MHz is not a VOR or localizer frequency: those run from 108.00 to 117.95 MHz in steps of 0.05.",
            code="not-a-vor-frequency",
        )
    offset = 1063 if frequency_khz < _LOW_BAND_END_KHZ else 1053
    return f"{frequency_khz // 100 - offset}{'X' if frequency_khz % 100 == 0 else 'Y'}"


def vor_khz_for_channel(channel: str) -> int:
    """Return the VHF frequency paired with a channel. [kHz]"""
    number, mode = _parsed(channel)
    if not (17 <= number <= 59 or 70 <= number <= 126):
        raise OutOfRange(
            f"Channel {number}{mode} has no VHF frequency paired with it: only 17 to 59 and 70 to 126 have.",
            code="channel-not-paired",
        )
    tenths = number + (1063 if number <= 59 else 1053)
    return tenths * 100 + (0 if mode == "X" else _SPACING_KHZ)


def parse_channel(text: str) -> str:
    """Return a channel in its short form: "082X", " 82x" and "82" (charts leave out the X) all give "82X"."""
    number, mode = _parsed(text)
    return f"{number}{mode}"


def dme_pair(channel: str) -> DmePair:
    """Return the frequencies of a channel.

    Notes
    -----
    The aircraft asks on 1024 MHz + channel number. The ground answers 63 MHz away: X channels below it up to 63 and above it from 64, Y
    channels the other way round.
    """
    number, mode = _parsed(channel)
    interrogation_mhz = 1024 + number
    answers_above = (number >= 64) == (mode == "X")
    return DmePair(
        channel=f"{number}{mode}",
        interrogation_mhz=interrogation_mhz,
        reply_mhz=interrogation_mhz + (63 if answers_above else -63),
    )


def _is_paired_khz(frequency_khz: int) -> bool:
    return LOWEST_VOR_KHZ <= frequency_khz <= HIGHEST_VOR_KHZ and frequency_khz % _SPACING_KHZ == 0


def _parsed(text: str) -> tuple[int, str]:
    found = _CHANNEL.fullmatch(text.strip())
    if found is None or int(found["number"]) > 126:
        raise InputProblem(
            f"{text[:20]!r} is not a DME channel. Channels run from 1X to 126Y: a number and X or Y.", code="channel-bad", place="channel"
        )
    return int(found["number"]), found["mode"].upper() or "X"
