"""VOR frequencies and DME channels against ICAO Annex 10."""

from __future__ import annotations

import csv

import pytest

from server.radio.channels import channel_for_vor_khz, dme_pair, is_vor_khz, parse_channel, vor_khz_for_channel
from tests.reference.tables import table


@pytest.mark.parametrize("row", table("vor_dme_channels.csv"), ids=lambda row: row["vhf_mhz"])
def test_agrees_with_annex_10_table_a(row):
    frequency_khz = round(float(row["vhf_mhz"]) * 1000)
    assert channel_for_vor_khz(frequency_khz) == row["channel"]
    assert vor_khz_for_channel(row["channel"]) == frequency_khz
    pair = dme_pair(row["channel"])
    assert (pair.interrogation_mhz, pair.reply_mhz) == (int(row["interrogation_mhz"]), int(row["reply_mhz"]))
    assert is_vor_khz(frequency_khz) == (row["use"] == "VOR")


@pytest.mark.parametrize(
    ("valid", "frequencies_khz"),
    [
        (True, [108_000, 108_050, 108_200, 108_250, 110_400, 111_850, 112_000, 112_100, 112_150, 117_950]),
        (False, [108_100, 108_150, 109_900, 109_950, 111_900, 111_950, 118_000, 107_950, 113_030]),
    ],
)
def test_agrees_with_the_vor_band_of_annex_10(valid, frequencies_khz):
    """ICAO Annex 10 Vol I 3.3.2 and Vol V 4.2: even tenths, and even tenths + 0.05, below 112 MHz; every 50 kHz from there to 117.95."""
    assert [is_vor_khz(frequency) for frequency in frequencies_khz] == [valid] * len(frequencies_khz)


def test_there_are_160_vor_channels():
    """40 below 112 MHz and 120 from there on (study notes on Annex 10 Vol V)."""
    valid = [khz for khz in range(107_000, 119_000, 10) if is_vor_khz(khz)]
    assert (len([khz for khz in valid if khz < 112_000]), len(valid)) == (40, 160)


@pytest.mark.parametrize("number", range(1, 15))
def test_agrees_with_14_cfr_171_311_table_1b(number):
    """Interrogation 1025 + (n - 1) MHz, replies X 962 + (n - 1), Y 1088 + (n - 1), for n = 1 to 14 as printed."""
    assert dme_pair(f"{number}X").interrogation_mhz == dme_pair(f"{number}Y").interrogation_mhz == 1025 + number - 1
    assert (dme_pair(f"{number}X").reply_mhz, dme_pair(f"{number}Y").reply_mhz) == (962 + number - 1, 1088 + number - 1)


def test_agrees_with_the_channels_of_an_open_world_table(open_data):
    """OurAirports navaids (snapshot of August 2026): 12 rows are known to break the plan, among them KOA, BGD, LIN and TZO."""
    path = open_data / "navaids_world" / "navaids.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["type"] in ("VOR-DME", "VORTAC") and row["dme_channel"]]
    plan = {channel_for_vor_khz(khz): khz for khz in range(108_000, 118_000, 50)}
    odd = [row["ident"] for row in rows if plan.get(parse_channel(row["dme_channel"])) != int(row["frequency_khz"])]
    assert len(rows) > 3000
    assert len(odd) <= 12 + 2  # the snapshot here may be a few weeks younger
    assert {"KOA", "BGD", "LIN", "TZO"} <= set(odd)


def test_replies_change_sides_between_channels_63_and_64():
    """Annex 10 Vol I, Table A (rule from memory): X replies 63 MHz below up to channel 63, above from 64; Y the other way round."""
    assert [(dme_pair(channel).interrogation_mhz, dme_pair(channel).reply_mhz) for channel in ("63X", "64X", "63Y", "64Y")] == [
        (1087, 1024),
        (1088, 1151),
        (1087, 1150),
        (1088, 1025),
    ]
