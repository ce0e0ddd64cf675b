"""Text goes out packed to whoever accepts it; pictures and sheets as they are."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("address", ["/static/desk.js", "/map/leaflet.js", "{at}/desk/chart?on=2026-06-16"])
def test_text_is_packed_for_whoever_accepts_it(served, address):
    at = address.format(at=served.at)
    packed = served.browser.get(at, headers={"Accept-Encoding": "gzip"})
    plain = served.browser.get(at, headers={"Accept-Encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip" and "content-encoding" not in plain.headers
    assert packed.content == plain.content and "Accept-Encoding" in packed.headers["vary"]


def test_a_tile_and_a_sheet_are_sent_as_they_are(served):
    tiles = served.browser.get(f"{served.at}/desk/chart?on=2026-06-16").json()["tiles"]
    for address in (tiles.format(z=3, x=0, y=0), f"{served.at}/export"):
        answer = served.browser.get(address, headers={"Accept-Encoding": "gzip"})
        assert answer.status_code == 200 and "content-encoding" not in answer.headers


def test_an_answer_has_its_guard_and_its_packing(served):
    answer = served.browser.get("/static/desk.js", headers={"Accept-Encoding": "gzip"})
    assert answer.headers["content-security-policy"].startswith("default-src 'self'")


def test_a_page_that_is_kept_is_packed_anew_each_time(served):
    """The log is laid out once and sent often."""
    log = f"{served.at}/routes/{served.keep_route().id}/log"
    first, second, plain = (served.browser.get(log, headers={"Accept-Encoding": way}) for way in ("gzip", "gzip", "identity"))
    assert first.content == second.content == plain.content
    assert first.headers["content-length"] == second.headers["content-length"] != plain.headers["content-length"]
