"""A beacon's ident played in the browser: the tone that is made is measured against ITU-R M.1677-1."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

SETTINGS = "/regions/vessune/beacons/1"
RATE = 16_000

# ITU-R M.1677-1, part I, 1.1.1 for M, S and K; part I, 2: dash 3, gaps 1 and 3, in dots. Seven words a minute of 50 dots: ICAO Annex 10
# volume I, 3.3.6.5 (from memory).
DOT_S = 60.0 / 50.0 / 7.0
MSK_UNITS = [3, -1, 3, -3, 1, -1, 1, -1, 1, -3, 3, -1, 1, -1, 3]


def samples_of(page) -> np.ndarray:
    """The sound of the player on the page, rendered without a loudspeaker."""
    return np.array(
        page.evaluate(
            """async (rate) => {
                const { schedule, signalsOf } = await import("/static/morse.js");
                const signals = signalsOf(document.querySelector("[data-signals]").dataset.signals);
                const context = new OfflineAudioContext(1, rate * 10, rate);
                schedule(context, signals, 0.5, 0);
                return Array.from((await context.startRendering()).getChannelData(0));
            }""",
            RATE,
        )
    )


def runs_of(sound: np.ndarray) -> list[float]:
    """How long the tone lasts (positive) and is silent (negative), in order. [s]"""
    window = RATE // 250
    loud = np.array([np.abs(sound[at : at + window]).max() > 0.1 for at in range(0, sound.size - window, window)])
    edges = np.flatnonzero(np.diff(loud.astype(int))) + 1
    edges = np.concatenate([[0], edges, [loud.size]])
    runs = [(bool(loud[a]), (b - a) * window / RATE) for a, b in pairwise(edges)]
    while runs and not runs[-1][0]:
        runs.pop()
    return [length if on else -length for on, length in runs if on or length]


def test_the_ident_is_sent_at_its_length_and_pitch(page):
    page.goto(SETTINGS)
    assert page.get_by_role("heading", level=1).inner_text().startswith("MSK")
    page.get_by_role("button", name="Play the ident").wait_for()
    sound = samples_of(page)
    runs = runs_of(sound)
    runs = runs[1:] if runs[0] < 0 else runs
    assert len(runs) == len(MSK_UNITS)
    for run, units in zip(runs, MSK_UNITS, strict=True):
        assert run == pytest.approx(units * DOT_S, abs=0.012)
    first = sound[int(0.05 * RATE) : int((3 * DOT_S - 0.05) * RATE)]
    spectrum = np.abs(np.fft.rfft(first * np.hanning(first.size)))
    assert np.argmax(spectrum) * RATE / first.size == pytest.approx(1020.0, abs=5.0)  # ICAO Annex 10: 1,020 Hz


def test_the_button_plays_and_stops_by_keyboard(page):
    page.goto(SETTINGS)
    button = page.get_by_role("button", name="Play the ident")
    button.focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Stop").press("Enter")
    page.get_by_role("button", name="Play the ident").wait_for()


def test_without_scripts_the_morse_is_read_and_no_button_promises_a_sound(window):
    page = window.open(scripts=False)
    page.goto(SETTINGS)
    assert page.get_by_role("button", name="Play the ident").count() == 0
    assert page.locator(".morse-letters").inner_text().split() == ["M", "−−", "S", "···", "K", "−·−"]
