"""VOR frequencies and channels as people type them."""

from __future__ import annotations

import pytest

from server.errors import InputProblem, OutOfRange
from server.radio.channels import channel_for_vor_khz, dme_pair, is_vor_khz, parse_channel, vor_khz_for_channel


@pytest.mark.parametrize(
    ("typed", "clean"), [("082X", "82X"), ("82X", "82X"), (" 82x ", "82X"), ("59y", "59Y"), ("82", "82X"), ("126Y", "126Y"), ("001X", "1X")]
)
def test_channels_are_read(typed, clean):
    assert parse_channel(typed) == clean


@pytest.mark.parametrize("typed", ["", "X", "0X", "127X", "82Z", "82XX", "８２X", "-5X", "1e1", "82 X Y", "9" * 50])
def test_what_is_no_channel_is_refused(typed):
    with pytest.raises(InputProblem, match=r"not a DME channel\. Channels run from 1X to 126Y"):
        parse_channel(typed)


@pytest.mark.parametrize("frequency_khz", [-1, 0, 107_950, 118_000, 113_025, 11_495, 370])
def test_what_is_no_vor_frequency_has_no_channel(frequency_khz):
    assert not is_vor_khz(frequency_khz)
    with pytest.raises(OutOfRange, match=r"108\.00 to 117\.95 MHz"):
        channel_for_vor_khz(frequency_khz)


def test_every_frequency_comes_back_from_its_channel():
    frequencies_khz = range(108_000, 118_000, 50)
    channels = [channel_for_vor_khz(khz) for khz in frequencies_khz]
    assert len(set(channels)) == 200
    assert [vor_khz_for_channel(channel) for channel in channels] == list(frequencies_khz)


@pytest.mark.parametrize("channel", ["16X", "60X", "69Y", "1Y"])
def test_channels_without_a_vhf_frequency_say_so(channel):
    with pytest.raises(OutOfRange, match="no VHF frequency paired"):
        vor_khz_for_channel(channel)
    assert dme_pair(channel).channel == channel


def test_replies_stay_in_the_dme_band():
    """960 to 1215 MHz (AIM 1-1-7)."""
    replies = [dme_pair(f"{number}{mode}").reply_mhz for number in range(1, 127) for mode in "XY"]
    assert min(replies) >= 960 and max(replies) <= 1215
    assert len(set(replies)) == 252
