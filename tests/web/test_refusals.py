"""Refusals at the door: what is wrong with a request is told with the right state, and never by a page of its own mistakes."""

from __future__ import annotations

import pytest
from starlette.datastructures import Headers
from starlette.testclient import TestClient

from server.errors import NotAllowed
from server.web import guard
from server.web.guard import ANSWER_HEADERS, check_host


def test_an_origin_that_is_no_address_is_refused_and_breaks_nothing(served):
    answer = served.browser.post(f"{served.at}/routes/new", data={}, headers={"Origin": "http://["})
    assert answer.status_code == 403


def test_two_host_headers_are_refused_whichever_comes_first():
    for names in (("127.0.0.1:8077", "evil.example"), ("evil.example", "127.0.0.1:8077"), ("127.0.0.1:8077", "127.0.0.1:8077")):
        with pytest.raises(NotAllowed):
            check_host(Headers(raw=[(b"host", name.encode()) for name in names]), guard.LOOPBACK_HOSTS)


def test_a_method_that_an_address_does_not_take_is_told_with_those_it_takes(served):
    for address in ("/", "/static/log.css", f"{served.at}/routes"):
        answer = served.browser.request("DELETE", address)
        assert answer.status_code == 405 and "GET" in answer.headers["allow"], address


def test_a_body_without_a_length_that_grows_too_large_is_told_as_too_large(served, monkeypatch):
    monkeypatch.setattr(guard, "LARGEST_BODY_BYTES", 10_000)
    chunks = (b"name=" + b"x" * 4_000 for _ in range(8))
    answer = served.browser.post(f"{served.at}/routes/new", content=chunks, headers={"Content-Type": "application/x-www-form-urlencoded"})
    assert answer.status_code == 413


def test_a_page_that_broke_carries_the_security_headers_too(served, monkeypatch):
    from server.planning import region_book

    def broken(*_, **__):
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr(region_book, "summarise", broken)
    browser = TestClient(served.browser.app, base_url=str(served.browser.base_url), raise_server_exceptions=False)
    answer = browser.get("/")
    assert answer.status_code == 500
    assert {name.lower() for name in ANSWER_HEADERS} <= set(answer.headers)


def test_a_database_that_is_away_is_no_fault_of_what_was_asked(served, monkeypatch):
    from server.errors import ProjectError
    from server.planning import region_book

    def away(*_, **__):
        raise ProjectError("The database cannot be used: connection refused.", code="database-unusable")

    monkeypatch.setattr(region_book, "summarise", away)
    assert served.browser.get("/").status_code == 503


@pytest.mark.parametrize("text", ['{"type": "Point", "coordinates": [' + "9" * 5_000 + ", 43]}"])
def test_a_number_of_thousands_of_digits_in_geojson_is_refused_in_words(text):
    from server.errors import InputProblem
    from server.exchange.geojson_route import read_geojson_route

    with pytest.raises(InputProblem, match="a number that cannot be one"):
        read_geojson_route(text.encode(), name="far.geojson")


def test_a_number_of_thousands_of_digits_in_toml_is_refused_in_words():
    from server.errors import InputProblem
    from server.exchange.toml_fields import toml_table

    with pytest.raises(InputProblem, match="not usable as TOML"):
        toml_table("seats = " + "9" * 5_000, name="aircraft.toml")


def test_a_stale_edit_with_a_field_that_only_looks_like_a_wind_is_a_conflict_and_no_breakdown(served):
    route = served.keep_route()
    path = f"{served.at}/routes/{route.id}/edit"
    fields = served.page(path).form(path).fields
    served.send(path, fields | {"name": "Changed first"})
    answer = served.send(path, fields | {"name": "Changed second", "winds.x.y": "1", "winds.0": "2", "winds.0.from.more": "3"})
    assert answer.status_code == 409


def test_a_referer_that_is_no_address_breaks_nothing(served):
    answer = served.browser.get(f"{served.at}/routes/999", headers={"Referer": "http://["})
    assert answer.status_code == 404
