"""Morse against Recommendation ITU-R M.1677-1 and the timing of a VOR's identification."""

from __future__ import annotations

import string
from itertools import pairwise

import pytest

from server.navigation import morse, morse_duration_s, morse_timing

# Recommendation ITU-R M.1677-1 (10/2009), part I, 1.1.1 and 1.1.2 (from memory; the code itself is common knowledge)
LETTERS = "._ _... _._. _.. . .._. __. .... .. .___ _._ ._.. __ _. ___ .__. __._ ._. ... _ .._ ..._ .__ _.._ _.__ __.."
FIGURES = "_____ .____ ..___ ...__ ...._ ..... _.... __... ___.. ____."


def test_agrees_with_itu_r_m_1677():
    for characters, signs in ((string.ascii_uppercase, LETTERS), (string.digits, FIGURES)):
        assert [morse(character) for character in characters] == signs.replace("_", "-").split()


def test_no_two_characters_share_a_sign():
    signs = [morse(character) for character in string.ascii_uppercase + string.digits]
    assert len(set(signs)) == 36


@pytest.mark.parametrize(
    ("text", "units", "seconds"),
    [
        ("E", 1, 0.17),
        ("AML", 27, 4.63),
        ("ONT", 25, 4.29),
        ("POM", 35, 6.00),
        ("SAV", 25, 4.29),
        ("JFK", 37, 6.34),
        ("TEST", 21, 3.60),
        ("PARIS", 43, 7.37),
    ],
)
def test_agrees_with_identification_timing_at_seven_words_a_minute(text, units, seconds):
    """M.1677-1, part I, 2: dash 3 dots, gaps 1, 3 and 7; Annex 10 Vol I 3.3.6.5: about 7 words a minute (from memory)."""
    assert morse_duration_s(text, 7) == pytest.approx(seconds, abs=0.01)
    assert morse_duration_s(text, 60 / 50) == pytest.approx(units, abs=1e-9)  # at 1.2 words a minute a dot lasts a second


def test_paris_with_its_gap_is_fifty_units():
    """The word by which speed is measured: two of them, less the gap after the second."""
    assert morse_duration_s("PARIS PARIS", 60 / 50) == pytest.approx(43 + 7 + 43)


@pytest.mark.parametrize("text", ["MSK", "E", "PARIS PARIS", "Q7"])
def test_signals_in_time_end_when_the_sending_ends(text):
    signals = morse_timing(text, 7.0)
    assert len(signals) == sum(len(code) for code in morse(text).replace("/", " ").split())
    last_s, length_s = signals[-1]
    assert last_s + length_s == pytest.approx(morse_duration_s(text, 7.0))
    assert all(after[0] >= before[0] + before[1] for before, after in pairwise(signals))
