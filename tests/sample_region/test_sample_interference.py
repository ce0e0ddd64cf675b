"""Brissale is on the frequency of Ulmare: the sample flight must say so where Ulmare guides it."""

from __future__ import annotations

from server.planning.plan import plan_route


def test_the_leg_from_tessary_to_ulmare_names_brissale(sample):
    log = plan_route(sample.library, sample.terrain_store, sample.routes[0].id).log
    leg = next(leg for leg in log.legs if (leg.start.ident, leg.end.ident) == ("TSY", "ULR"))
    (note,) = [note for note in leg.notes if note.code == "same-channel"]
    assert note.message.startswith("BSS is on 116.20 too")
    # at the changeover, half way of 50.6 NM and about 81 NM from Brissale: 20 log (81 / 25.3) = 10.1 dB at equal power
    assert "ULR is predicted only 10 dB stronger at 25.3 NM, 81 NM from BSS; 20 dB are asked for" in note.message
    assert note.message.endswith("Listen to the ident of ULR.")
