"""A point that cannot be is refused before it is stored, at the top of the page and beside its field."""

from __future__ import annotations

import re

import pytest

from tests.web.reading_pages import read


def add(served, number: int, fields: dict[str, str]):
    path = f"{served.at}/routes/{number}"
    version = served.page(path).form(f"{path}/chain").fields["version"]
    return served.send(f"{path}/points", {"after": "0", "version": version, **fields})


IMPOSSIBLE = {
    "radials that part": (
        {"point_kind": "two-radials", "first_beacon": "KEV", "first_radial": "270", "second_beacon": "DRO", "second_radial": "095"},
        "second_radial",
        "do not cross ahead of both beacons",
    ),
    "radials side by side": (
        {"point_kind": "two-radials", "first_beacon": "KEV", "first_radial": "000", "second_beacon": "DRO", "second_radial": "000"},
        "second_radial",
        "parallel or nearly so",
    ),
    "a longitude beyond the half circle": (
        {"point_kind": "position", "point_lat": "43 30 N", "point_lon": "-200"},
        "point_lon",
        "a longitude runs from 0 to 180 degrees",
    ),
}


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_impossible_point_is_refused_beside_its_field_and_the_plan_stays(served, case):
    number = served.keep_route().id
    fields, field, words = IMPOSSIBLE[case]
    answer = add(served, number, fields)
    page = read(answer)
    assert answer.status_code == 422 and words in page.words
    assert f'id="{field}-wrong"' in page.html
    assert "Open the log" in page.words and "cannot be planned" not in page.words
    with served.library.read() as work:
        assert work.routes.get(number).points == ()


def test_what_is_wrong_with_a_point_stands_above_the_route_and_leads_to_its_field(served):
    answer = add(
        served, served.keep_route().id, {"point_kind": "radial-distance", "rd_beacon": "KEV", "rd_radial": "361", "rd_distance": "5"}
    )
    above, below = answer.text.split("The route, point by point", 1)
    assert 'href="#rd_radial"' in above and "361 degrees is outside" in above
    assert 'role="alert"' not in below
    assert re.search(r"<details[^>]* open", below), "the field is in sight"
