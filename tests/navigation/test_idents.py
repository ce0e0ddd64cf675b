"""Identifications as people type them."""

from __future__ import annotations

import pytest

from server.errors import InputProblem
from server.navigation import morse, morse_duration_s, normalise_ident


@pytest.mark.parametrize(("typed", "clean"), [(" ald ", "ALD"), ("NAN", "NAN"), ("on", "ON"), ("1e5", "1E5"), ("ABCD", "ABCD"), ("n", "N")])
def test_idents_are_capitals_without_blanks(typed, clean):
    assert normalise_ident(typed) == clean


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("АLD", r"U\+0410\), a Cyrillic character that looks like a Latin one"),
        ("ΑLD", r"U\+0391\), a Greek character"),
        ("ＡLD", "full-width"),
        ("AL-D", r"'-' \(U\+002D\)"),
        ("A D", "letters A to Z"),
        ("ſB", r"U\+017F"),
        ("²", r"U\+00B2"),
        ("ÄB", r"U\+00C4"),
        ("", "missing"),
        ("   ", "missing"),
    ],
)
def test_what_is_not_a_letter_or_a_figure_is_named(typed, words):
    with pytest.raises(InputProblem, match=words):
        normalise_ident(typed)


def test_words_are_parted_by_a_stroke():
    assert morse("so i") == "... --- / .."


def test_nothing_is_silence():
    assert morse("") == ""
    assert morse_duration_s("", 7) == 0.0


def test_a_character_without_a_sign_is_refused():
    with pytest.raises(InputProblem, match="no Morse sign here for '!'"):
        morse("AB!")
