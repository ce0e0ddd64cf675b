"""The page of caution leaves no cause of a state out, and says the figures that are counted with."""

from __future__ import annotations

from server.radio import Cause
from server.radio.band import STANDARD_DOUBT
from server.sheets.how_cautious import COUNTED, NOT_COUNTED, Side


def test_every_cause_of_a_reception_state_stands_in_one_row_of_the_page():
    told = [cause for row in COUNTED for cause in row.causes]
    assert sorted(told) == sorted(Cause)


def test_the_page_says_the_band_that_is_counted_with():
    air = next(row for row in COUNTED if row.subject == "Bending of the air")
    assert f"{STANDARD_DOUBT.weak_k:g} to {STANDARD_DOUBT.strong_k:g}" in air.counted


def test_the_page_does_not_hide_what_lies_on_the_hopeful_side():
    hopeful = {row.subject for row in COUNTED if row.side is Side.HOPEFUL}
    assert hopeful and NOT_COUNTED  # masts, airspace, notices: nobody can call these safe
