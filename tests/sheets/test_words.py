"""What the planner found, in sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.navigation import Alignment, AlignmentKind
from server.planning.gaps import gaps_of_leg
from server.planning.log import Note, NoteLevel, Sense
from server.radio.beacon import BeaconKind, ComponentKind
from server.radio.reception import Cause, Finding, ReceptionState, Stretch
from server.sheets import words
from tests.sheets.sheet_builders import KEV, OSK, a_beacon, a_log, a_reception, guided, hidden, only_just, received


@pytest.mark.parametrize("cause", list(Cause))
def test_every_cause_has_its_own_words(cause):
    told = words.cause_in_words(Finding(cause=cause, state=ReceptionState.NOT_RECEIVED))
    others = [words.CAUSE_WORDS[other] for other in Cause if other is not cause]
    assert len(told) > 10
    assert told not in others


@pytest.mark.parametrize("state", list(ReceptionState))
def test_every_state_has_a_word(state):
    assert words.STATE_WORDS[state]


def test_a_lost_beacon_names_place_time_ridge_and_cure():
    leg = replace(a_log().legs[1], distance_nm=60.0)  # at 113.9 kt
    told = words.reception_in_words(leg, a_reception(KEV, (received(0.0, 37.1), hidden(37.1, 60.0, lowest_altitude_ft=14710.0))))
    assert told[0] == "KEV received from the start of the leg to 37.1 NM."
    assert told[1] == (
        "KEV lost at 37.1 NM, 0:20 into the leg: hidden by ground of 6,550 ft at 24.3 NM from the station (43°04.2'N 035°56.9'W); "
        "14,800 ft or higher would cure it."
    )


def test_a_regained_beacon_is_heard_again_and_a_late_one_first_heard():
    leg = a_log().legs[1]
    again = words.reception_in_words(leg, a_reception(KEV, (received(0.0, 10.0), hidden(10.0, 20.0), received(20.0, 52.0))))
    late = words.reception_in_words(leg, a_reception(KEV, (hidden(0.0, 20.0), received(20.0, 52.0))))
    assert "heard again at 20.0 NM" in again[-1]
    assert "first heard at 20.0 NM" in late[-1]


def test_a_leg_without_a_known_time_gives_places_and_no_times():
    leg = replace(a_log().legs[1], time_min=None)
    told = words.reception_in_words(leg, a_reception(KEV, (received(0.0, 37.1), hidden(37.1, 52.0))))
    assert told[1].startswith("KEV lost at 37.1 NM into the leg: ")


def test_terrain_without_a_ridge_is_the_radio_horizon():
    assert words.cause_in_words(Finding(cause=Cause.TERRAIN, state=ReceptionState.NOT_RECEIVED)) == "below the radio horizon of the station"


@pytest.mark.parametrize("cures_ft", [(7000.0, None), (None, 7000.0)])
def test_no_cure_is_promised_for_neighbours_of_which_one_has_none(cures_ft):
    parts = tuple(hidden(float(k), k + 1.0, lowest_altitude_ft=cure_ft) for k, cure_ft in enumerate(cures_ft))
    (told,) = words.reception_in_words(a_log().legs[1], a_reception(KEV, parts))
    assert "hidden by ground" in told and "cure" not in told


def test_neighbours_with_one_state_and_cause_are_told_once_with_the_highest_cure():
    joined = words.joined_by_state(
        (hidden(0.0, 5.0, lowest_altitude_ft=7000.0), hidden(5.0, 9.0, lowest_altitude_ft=9000.0), only_just(9.0, 10.0))
    )
    assert [(part.from_nm, part.to_nm) for part in joined] == [(0.0, 9.0), (9.0, 10.0)]
    assert joined[0].findings[0].lowest_altitude_ft == 9000.0


def test_the_cone_overhead_is_not_called_a_loss():
    cone = Finding(cause=Cause.OVERHEAD_CONE, state=ReceptionState.NOT_RECEIVED)
    stretches = (received(0.0, 51.0), Stretch(from_nm=51.0, to_nm=52.5, state=ReceptionState.NOT_RECEIVED, findings=(cone,)))
    told = words.reception_in_words(a_log().legs[1], a_reception(KEV, stretches))
    assert told[-1] == "KEV from 51.0 to 52.5 NM is overhead, in the cone where it gives no bearing: hold heading."


def test_assumptions_that_change_no_state_are_told_once():
    assumed = Finding(cause=Cause.ANTENNA_ASSUMED, state=ReceptionState.RECEIVED)
    stretches = (hidden(0.0, 5.0), replace(hidden(5.0, 9.0), findings=(*hidden(5.0, 9.0).findings, assumed)))
    told = words.reception_in_words(a_log().legs[1], a_reception(KEV, stretches))
    assert [sentence for sentence in told if "antenna height" in sentence] == [
        "KEV, for the whole leg: antenna height not published, one assumed."
    ]


def test_outbound_and_inbound_use_one_phrase_each():
    assert words.guidance_in_words(guided(KEV, Sense.FROM, 90.0, 90.0, 0, 10)) == "R-090 outbound, set 090, flag FROM"
    assert words.guidance_in_words(guided(KEV, Sense.TO, 270.0, 90.0, 0, 10)) == "course 270 TO (R-090 inbound)"


def test_true_stations_and_estimates_are_marked():
    assert words.guidance_in_words(guided(KEV, Sense.FROM, 90, 90, 0, 10, reference="T")) == "R-090 true outbound, set 090 true, flag FROM"
    assert words.guidance_in_words(guided(KEV, Sense.TO, 270, 90, 0, 10, estimated=True)) == "course 270 est. TO (R-090 est. inbound)"


def test_an_ndb_gives_a_bearing_and_nothing_to_set():
    ndb = guided(OSK, Sense.TO, None, None, 0, 10, component=ComponentKind.BEARING, bearing_magnetic_deg=359.7)
    assert words.guidance_in_words(ndb) == "bearing to the station 360 magnetic, ahead"


def test_a_station_whose_north_is_not_known_gives_no_course():
    told = words.guidance_in_words(guided(KEV, Sense.TO, None, None, 0, 10, reference="G"))
    assert told == "no course to set: which way the station's north points is not known"


def test_beyond_its_volume_a_beacon_is_not_promised_and_behind_a_ridge_after_that_not_received():
    volume = Finding(cause=Cause.OUTSIDE_VOLUME, state=ReceptionState.NOT_PROMISED, detail="outside service volume L")
    stretches = (
        hidden(0.0, 30.0),
        Stretch(from_nm=30.0, to_nm=52.0, state=ReceptionState.NOT_PROMISED, findings=(volume,)),
        hidden(52.0, 60.0),
    )
    told = words.reception_in_words(a_log().legs[1], a_reception(KEV, stretches))
    assert told[1] == "KEV not promised from 30.0 to 52.0 NM: outside service volume L. Do not rely on it there."
    assert told[2].startswith("KEV not received from 52.0 to 60.0 NM: hidden by ")


def test_a_cure_is_promised_only_when_it_cures_everything():
    sector = Finding(cause=Cause.UNUSABLE_SECTOR, state=ReceptionState.NOT_RECEIVED)
    both = replace(hidden(10.0, 52.0), findings=(*hidden(10.0, 52.0).findings, sector))
    told = words.reception_in_words(a_log().legs[1], a_reception(KEV, (received(0.0, 10.0), both)))
    assert "in a sector published as unusable" in told[1]
    assert "would cure it" not in told[1]


def test_the_cone_overhead_is_no_gap_in_guidance():
    cone = Finding(cause=Cause.OVERHEAD_CONE, state=ReceptionState.NOT_RECEIVED)
    stretches = (received(0.0, 51.0), Stretch(from_nm=51.0, to_nm=52.5, state=ReceptionState.NOT_RECEIVED, findings=(cone,)))
    assert gaps_of_leg(replace(a_log().legs[1], stretches=stretches)) == ()


def test_a_dme_is_told_in_one_line():
    dme = a_reception(KEV, (received(0.0, 36.1), hidden(36.1, 52.0)), ComponentKind.DISTANCE)
    assert words.distance_in_words(dme) == "KEV DME received from 0.0 to 36.1 NM only (hidden by ground)."
    assert words.distance_in_words(replace(dme, stretches=(received(0.0, 52.0),))) == "KEV DME received along the whole leg."


def test_the_reason_why_obs_and_heading_differ_shows_both_norths():
    leg = replace(a_log().legs[1], heading_magnetic_deg=88.4)
    why = words.why_set_and_steer_differ(leg, leg.guidance[0])
    assert "Set 091: KEV counts from its own north (10° W, 1985)" in why
    assert "Steer 088: today's variation here (14° W)" in why


def test_an_unknown_alignment_is_never_called_the_stations_own():
    unknown = a_beacon(alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    leg = a_log().legs[1]
    assert "estimated" in words.why_set_and_steer_differ(leg, replace(leg.guidance[0], beacon=unknown))


def test_morse_is_drawn_as_marks():
    # KEV: -.- . ...-  (ITU-R M.1677-1)
    assert words.morse_marks("KEV") == "−·− · ···−"
    assert words.morse_marks("É") == "--"


def test_notes_say_their_level():
    assert words.note_in_words(Note(code="x", level=NoteLevel.STOP, message="No fuel.")) == "STOP: No fuel."


def test_a_users_text_becomes_one_printable_line():
    assert words.plain_line("a\n\tb\x00\u202ec\ud800 \ufffe d") == "a bc d"


def test_the_dme_of_a_station_is_named_apart():
    assert words.station(KEV, ComponentKind.DISTANCE) == "KEV DME"
    assert words.station(a_beacon(kind=BeaconKind.NDB), ComponentKind.BEARING) == "KEV NDB"
