"""Changes of a route as the desk makes them: pure functions, asked in the browser."""

from __future__ import annotations

import pytest

CALL = """async ([name, ...given]) => (await import("/static/route_edit.js"))[name](...given)"""
BEACON, FIELD, SPOT = ({"what": "beacon", "id": 7}, {"what": "airfield", "id": 9}, {"what": "position", "lat": 43.5, "lon": -36.0})


def choice(**changes):
    return {"altitude_ft": None, "changeover_nm": None, "changeover_reason": ""} | changes


def point(number: int, **onward):
    return {"kind": "beacon", "place_id": number, "onward": choice(**onward)}


@pytest.fixture
def edit(page):
    page.goto("/")
    return lambda name, *given: page.evaluate(CALL, [name, *given])


@pytest.fixture
def draft():
    return {
        "number": 4,
        "version": 2,
        "name": "a route",
        "departure_id": 1,
        "destination_id": 2,
        "altitude_ft": 9_500,
        "onward": choice(changeover_nm=12.0, changeover_reason="published"),
        "points": [point(3, altitude_ft=8_500, changeover_nm=40.0, changeover_reason="published at D40"), point(4), point(5)],
    }


def places(draft):
    return [each["place_id"] for each in draft["points"]]


@pytest.mark.parametrize(("stop", "expected"), [(0, [7, 3, 4, 5]), (1, [3, 7, 4, 5]), (3, [3, 4, 5, 7])])
def test_a_place_is_put_in_after_a_stop(edit, draft, stop, expected):
    assert places(edit("insertAfter", draft, stop, BEACON)) == expected


def test_a_changeover_chosen_for_a_leg_that_is_no_longer_the_same_is_dropped_a_level_stays(edit, draft):
    changed = edit("insertAfter", draft, 1, BEACON)
    assert changed["points"][0]["onward"] == choice(altitude_ft=8_500)
    assert edit("insertAfter", draft, 0, BEACON)["onward"] == choice()
    assert edit("insertAfter", draft, 3, BEACON)["points"][0]["onward"]["changeover_nm"] == 40.0, "another leg keeps its own"


def test_replacing_a_stop_drops_the_changeovers_of_both_legs_at_it(edit, draft):
    second = edit("replaceStop", draft, 2, BEACON)
    assert second["points"][0]["onward"] == choice(altitude_ft=8_500) and second["onward"]["changeover_nm"] == 12.0
    first = edit("replaceStop", draft, 1, BEACON)
    assert first["onward"] == choice() and first["points"][0]["onward"] == choice(altitude_ft=8_500)


def test_replacing_the_destination_drops_the_changeover_of_the_last_leg(edit, draft):
    draft["points"] = draft["points"][:1]
    changed = edit("replaceStop", draft, 2, FIELD)
    assert changed["destination_id"] == 9 and changed["points"][0]["onward"] == choice(altitude_ft=8_500)


@pytest.mark.parametrize("stop", [0, 4])
def test_an_end_can_only_be_an_airfield(edit, draft, stop):
    assert edit("replaceStop", draft, stop, BEACON) is None and edit("replaceStop", draft, stop, SPOT) is None
    assert edit("replaceStop", draft, stop, FIELD) is not None


def test_a_stop_is_taken_out_and_moved(edit, draft):
    assert places(edit("removeStop", draft, 2)) == [3, 5]
    assert places(edit("moveStop", draft, 1, 1)) == [4, 3, 5]
    assert places(edit("moveStop", draft, 1, -1)) == [3, 4, 5], "the first cannot go further"


def test_the_way_back_has_neither_levels_nor_changeovers_of_the_way_out(edit, draft):
    back = edit("reversed", draft)
    assert (back["departure_id"], back["destination_id"], places(back)) == (2, 1, [5, 4, 3])
    assert all(each["onward"] == choice() for each in back["points"]) and back["onward"] == choice()
    assert places(edit("reversed", back)) == places(draft)


def test_an_altitude_holds_for_all_or_from_a_leg_on(edit, draft):
    assert edit("atAltitude", draft, 7_500, None)["points"][0]["onward"]["altitude_ft"] is None
    from_third = edit("atAltitude", draft, 6_500, 3)
    assert (from_third["altitude_ft"], from_third["points"][1]["onward"]["altitude_ft"]) == (9_500, 6_500)
    assert [edit("levelOf", from_third, leg) for leg in (1, 2, 3, 4)] == [9_500, 8_500, 6_500, 6_500]


def test_two_drafts_are_the_same_whether_or_not_they_name_what_is_empty(edit, draft):
    told = {**draft, "version": 9, "points": [{**each, "name": "", "lat_deg": None, "radial_deg": None} for each in draft["points"]]}
    assert edit("same", draft, told)
    assert not edit("same", draft, {**draft, "altitude_ft": 9_000})
    assert not edit("same", draft, {**draft, "points": draft["points"][:2]})


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("43 12.5 N 036 40.2 W", (43.208333, -36.67)),
        ("43.5N 36.25W", (43.5, -36.25)),
        ("43°30'S, 10°15'E", (-43.5, 10.25)),
        ("43 75.0 N 036 10 W", None),
        ("43.5 30 N 036 10 W", None),
        ("95 N 036 10 W", None),
    ],
)
def test_a_position_is_read_or_refused_never_guessed(page, typed, expected):
    page.goto("/")
    found = page.evaluate("""async (text) => (await import("/static/place_search.js")).findPlace(text, [], new Map())""", typed)
    if expected is None:
        assert "place" not in found and "Nothing here goes by" in found["trouble"]
    else:
        assert (found["place"]["lat"], found["place"]["lon"]) == pytest.approx(expected, abs=1e-6)
