"""Identifications: clean spelling, and Morse as dots and dashes."""

from __future__ import annotations

from server.errors import InputProblem

# International Morse code, Recommendation ITU-R M.1677-1 (10/2009), 1.1.1 letters and 1.1.2 figures
_MORSE = {
    "A": ".-", "B": "-...", "C": "-.-.", "D": "-..", "E": ".", "F": "..-.", "G": "--.", "H": "....", "I": "..", "J": ".---",
    "K": "-.-", "L": ".-..", "M": "--", "N": "-.", "O": "---", "P": ".--.", "Q": "--.-", "R": ".-.", "S": "...", "T": "-",
    "U": "..-", "V": "...-", "W": ".--", "X": "-..-", "Y": "-.--", "Z": "--..",
    "1": ".----", "2": "..---", "3": "...--", "4": "....-", "5": ".....", "6": "-....", "7": "--...", "8": "---..", "9": "----.",
    "0": "-----",
}  # fmt: skip

# ITU-R M.1677-1, part I, 2: spacing and length of the signals, in dots
_DASH_UNITS, _LETTER_GAP_UNITS, _WORD_GAP_UNITS = 3, 3, 7
_UNITS_PER_WORD = 50.0  # "PARIS" with the gap after it
_LOOK_ALIKE_SCRIPTS = (("Greek", 0x0370, 0x03FF), ("Cyrillic", 0x0400, 0x04FF), ("full-width", 0xFF00, 0xFFEF))


def normalise_ident(text: str) -> str:
    """Return an identification in capitals without blanks round it; refuse anything but A to Z and 0 to 9."""
    trimmed = text.strip()
    if not trimmed:
        raise InputProblem("An identification is missing: one or more letters or figures.", code="ident-missing", place="ident")
    for character in trimmed:
        if not (character.isascii() and character.isalnum()):
            raise InputProblem(
                f"The identification {trimmed!r} contains {_described(character)}. Use the letters A to Z and the figures 0 to 9.",
                code="ident-character",
                place="ident",
            )
    return trimmed.upper()


def morse(text: str) -> str:
    """Return text as Morse: '.' and '-', a blank between letters, ' / ' between words.

    References
    ----------
    Recommendation ITU-R M.1677-1 (10/2009), letters and figures.
    """
    return " / ".join(" ".join(_code(character) for character in word) for word in text.upper().split())


def morse_duration_s(text: str, words_per_minute: float) -> float:
    """Return how long one sending of the text takes, from the first to the last key-down. [s]

    Notes
    -----
    Dash = 3 dots, gap inside a letter 1, between letters 3, between words 7. A word is "PARIS": 50 dots, so a dot lasts
    60 / 50 / words_per_minute = 1.2 / words_per_minute seconds.
    """
    words = [[_letter_units(_code(character)) for character in word] for word in text.upper().split()]
    units = sum(sum(word) + _LETTER_GAP_UNITS * (len(word) - 1) for word in words) + _WORD_GAP_UNITS * max(0, len(words) - 1)
    return units * 60.0 / (_UNITS_PER_WORD * words_per_minute)


def morse_timing(text: str, words_per_minute: float) -> tuple[tuple[float, float], ...]:
    """Return the signals of one sending in order: when each key-down begins, and how long it lasts. [s], [s]

    Timing as morse_duration_s.
    """
    dot_s = 60.0 / (_UNITS_PER_WORD * words_per_minute)
    signals, at = [], 0
    for word in text.upper().split():
        for character in word:
            for sign in _code(character):
                length = _DASH_UNITS if sign == "-" else 1
                signals.append((at * dot_s, length * dot_s))
                at += length + 1
            at += _LETTER_GAP_UNITS - 1
        at += _WORD_GAP_UNITS - _LETTER_GAP_UNITS
    return tuple(signals)


def _code(character: str) -> str:
    if character not in _MORSE:
        raise InputProblem(f"There is no Morse sign here for {_described(character)}.", code="morse-character", place="ident")
    return _MORSE[character]


def _letter_units(code: str) -> int:
    return sum(_DASH_UNITS if sign == "-" else 1 for sign in code) + len(code) - 1


def _described(character: str) -> str:
    """Name a character so that a look-alike of a Latin letter shows."""
    number = ord(character)
    for script, first, last in _LOOK_ALIKE_SCRIPTS:
        if first <= number <= last:
            return f"{character!r} (U+{number:04X}), a {script} character that looks like a Latin one"
    return f"{character!r} (U+{number:04X})"
