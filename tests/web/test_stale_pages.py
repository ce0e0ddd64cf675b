"""Two windows on one route: what a stale page asks for is not done to something else, and nothing that was typed is lost."""

from __future__ import annotations

import pytest

from server.navigation import PointKind, RoutePoint
from tests.web.reading_pages import read

MEANWHILE = "changed in another window or by someone else"


def kept(served, number):
    with served.library.read() as work:
        return work.routes.get(number)


@pytest.fixture
def path(served) -> str:
    """A route over KEV, DRO and PYL."""
    points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=place_id) for place_id in (1, 2, 3))
    return f"{served.at}/routes/{served.keep_route(points=points).id}"


def places(served, path) -> list[int]:
    return [point.place_id for point in kept(served, int(path.rsplit("/", 1)[1])).points]


@pytest.mark.parametrize("way", ["remove", "up", "down"])
def test_button_of_a_stale_page_does_nothing_and_says_so(served, path, way):
    stale = served.page(path)
    taken_out = stale.form(f"{path}/points/1/remove")
    assert served.send(taken_out.action, taken_out.fields).status_code == 303
    assert places(served, path) == [2, 3]
    form = stale.form(f"{path}/points/2/{way}")
    answer = served.send(form.action, form.fields)
    assert answer.status_code == 409 and MEANWHILE in read(answer).words
    assert places(served, path) == [2, 3]
    fresh = read(answer).form(f"{path}/points/1/remove")
    assert served.send(fresh.action, fresh.fields).status_code == 303, "the page that says so is up to date"


def test_point_chosen_on_a_stale_page_is_not_put_elsewhere(served, path):
    stale = served.page(path)
    taken_out = stale.form(f"{path}/points/1/remove")
    served.send(taken_out.action, taken_out.fields)
    form = next(form for form in stale.forms if form.fields.get("point_kind") == "checkpoint")
    answer = served.send(form.action, form.fields | {"checkpoint": "Long Mere, lake"})
    page = read(answer)
    assert answer.status_code == 409 and MEANWHILE in page.words and places(served, path) == [2, 3]
    again = next(form for form in page.forms if form.fields.get("point_kind") == "checkpoint")
    assert again.fields["checkpoint"] == "Long Mere, lake", "what was chosen is kept"
    assert served.send(again.action, again.fields).status_code == 303


def test_chain_asked_for_on_a_stale_page_replaces_nothing(served, path):
    stale = served.page(path)
    taken_out = stale.form(f"{path}/points/1/remove")
    served.send(taken_out.action, taken_out.fields)
    answer = served.send(f"{path}/chain", stale.form(f"{path}/chain").fields)
    assert answer.status_code == 409 and MEANWHILE in read(answer).words
    assert places(served, path) == [2, 3]


def test_request_that_names_no_version_is_refused(served, path):
    answer = served.send(f"{path}/points/1/remove", {})
    assert answer.status_code == 422 and "Open the route again" in read(answer).words
    assert places(served, path) == [1, 2, 3]


def test_lost_edit_shows_the_form_again_with_what_was_typed_and_what_differs(served, path):
    edit = f"{path}/edit"
    fields = served.page(edit).form(edit).fields
    served.send(edit, fields | {"name": "Changed first", "altitude_ft": "8500"})
    answer = served.send(edit, fields | {"name": "Changed second", "remarks": "Typed with care"})
    page = read(answer)
    assert answer.status_code == 409 and MEANWHILE in page.words
    assert "Something else depends on it" not in page.words
    assert 'Name of the route: it is "Changed first" there now' in page.words
    assert 'Cruising altitude: it is "8500" there now' in page.words
    assert 'href="#altitude_ft"' in page.html
    kept_form = page.form(edit)
    assert (kept_form.fields["name"], kept_form.fields["remarks"]) == ("Changed second", "Typed with care")
    number = int(path.rsplit("/", 1)[1])
    assert kept(served, number).name == "Changed first"
    assert served.send(edit, kept_form.fields).status_code == 303, "sent again it is meant"
    assert (kept(served, number).name, kept(served, number).altitude_ft) == ("Changed second", 7500)
    assert places(served, path) == [1, 2, 3]


def test_refusals_for_what_depends_on_a_thing_and_for_what_changed_have_headings_of_their_own(served, path):
    answer = served.send(f"{served.at}/beacons/1/remove", {})
    assert answer.status_code == 409 and read(answer).title.startswith("Something else depends on it")
