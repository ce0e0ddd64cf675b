"""Who may talk to a Beaconry without sign-in, how much they may send, and what every answer tells the browser."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import anyio
import pytest

from server.web.guard import LARGEST_BODY_BYTES
from tests.web.reading_pages import read

PLACE = {"name": "Round Tarn", "feature": "lake", "lat": "43 30 N", "lon": "36 20 W"}


@pytest.mark.parametrize("host", ["127.0.0.1:8077", "localhost:8077", "localhost", "[::1]:8077"])
def test_loopback_host_is_answered(served, host):
    assert served.browser.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("host", ["beaconry.example", "192.168.1.4:8077", "127.0.0.1.evil.example", "", "[::1", "a" * 300])
def test_any_other_host_is_refused_with_a_plain_page(served, host):
    answer = served.browser.get("/", headers={"Host": host})
    assert answer.status_code == 403
    assert "answers on this machine only" in read(answer).words


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_form_of_another_site_changes_nothing(served, headers):
    answer = served.browser.post(f"{served.at}/checkpoints/new", data=PLACE, headers=headers)
    assert answer.status_code == 403
    assert "sent from another site, so nothing was changed" in read(answer).words
    assert "Round Tarn" not in served.page(f"{served.at}/checkpoints").words


def test_form_of_our_own_page_is_taken(served):
    headers = {"Origin": "http://127.0.0.1:8077", "Sec-Fetch-Site": "same-origin"}
    answer = served.browser.post(f"{served.at}/checkpoints/new", data=PLACE, headers=headers)
    assert answer.status_code == 303


def test_every_answer_carries_the_policy(served):
    for path in ("/", "/nothing", "/static/beaconry.css", f"{served.at}/routes/999"):
        headers = served.browser.get(path).headers
        assert headers["content-security-policy"].startswith("default-src 'self'")
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert "unsafe-inline" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_body_that_announces_a_gigabyte_is_refused_unread(served):
    headers = {"Content-Length": str(1 << 30), "Content-Type": "application/x-www-form-urlencoded"}
    answer = served.browser.post(f"{served.at}/load", content=b"", headers=headers)
    assert answer.status_code == 413
    assert answer.headers["connection"] == "close"
    assert "larger than 10 MB, so it was not read" in read(answer).words


@pytest.mark.parametrize(
    ("kind", "status"),
    [(b"multipart/form-data; boundary=x", 413), (b"application/x-www-form-urlencoded", 400)],  # the latter: one field beyond all measure
)
def test_endless_body_without_announced_length_is_cut_off_as_it_arrives(served, kind, status):
    arrived, sent = [], []
    start = b'--x\r\nContent-Disposition: form-data; name="table"; filename="a.csv"\r\n\r\n'

    async def endless():
        arrived.append(1 << 16)
        return {"type": "http.request", "body": start if len(arrived) == 1 else b"a" * (1 << 16), "more_body": True}

    async def keep(message):
        sent.append(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": f"{served.at}/load",
        "raw_path": b"",
        "query_string": b"",
        "headers": [(b"host", b"127.0.0.1"), (b"content-type", kind)],
        "http_version": "1.1",
        "scheme": "http",
        "server": ("127.0.0.1", 80),
        "client": ("127.0.0.1", 5000),
        "root_path": "",
        "asgi": {"version": "3.0"},
    }
    with ThreadPoolExecutor(1) as aside:  # a browser test before this one keeps an event loop in this thread
        aside.submit(anyio.run, served.browser.app, scope, endless, keep).result()
    assert sent[0]["status"] == status
    assert sum(arrived) < LARGEST_BODY_BYTES + (1 << 18)


@pytest.mark.parametrize("length", ["-1", "ten", "1e3", "9" * 400])
def test_nonsense_length_is_refused(served, length):
    assert served.browser.post("/aircraft/new", content=b"", headers={"Content-Length": length}).status_code == 413


def test_broken_multipart_gets_a_page_of_the_house(served):
    answer = served.browser.post(f"{served.at}/load", content=b"--x\r\nno", headers={"Content-Type": "multipart/form-data; boundary=x"})
    assert answer.status_code in (400, 422)
    assert "Traceback" not in answer.text and read(answer).title


def test_head_gives_the_head_of_get(served):
    answer = served.browser.head("/")
    assert answer.status_code == 200 and answer.content == b""


@pytest.mark.parametrize(
    "path",
    [
        "/nothing",
        "{at}/beacons/999",
        "{at}/beacons/0",
        "{at}/beacons/abc",
        "{at}/beacons/99999999999999999999",
        "/regions/none/beacons",
        "/%00",
    ],
)
def test_what_is_not_here_gets_a_404_page(served, path):
    answer = served.browser.get(path.format(at=served.at))
    assert answer.status_code == 404
    assert read(answer).title.startswith("Not here –")


def test_wrong_method_gets_a_405_page(served):
    answer = served.browser.delete("/")
    assert answer.status_code == 405
    assert "does not take that kind of request" in read(answer).words
    assert "GET" in answer.headers["allow"]


@pytest.mark.parametrize("query", ["page=0", "page=abc", "page=-3", "search=" + "a" * 500])
def test_impossible_query_is_named(served, query):
    answer = served.browser.get(f"{served.at}/beacons?{query}")
    assert answer.status_code == 422
    assert f"look at {query.partition('=')[0]} in it" in read(answer).words


def test_our_own_mistake_shows_no_stack_trace(served, monkeypatch):
    def broken(*_args, **_kwargs):
        raise RuntimeError("secret inner words")

    monkeypatch.setattr("server.planning.region_book.list_aircraft", broken)
    answer = served.browser.get("/aircraft")
    assert answer.status_code == 500
    assert "Beaconry made a mistake" in read(answer).words
    assert "secret" not in answer.text and "Traceback" not in answer.text


def test_interactive_api_pages_are_off(served):
    assert [served.browser.get(path).status_code for path in ("/docs", "/redoc", "/openapi.json")] == [404, 404, 404]


def test_static_files_may_be_kept_and_stay_in_their_folder(served):
    assert "max-age" in served.browser.get("/static/beaconry.css").headers["cache-control"]
    assert served.browser.get("/static/../server/app.py").status_code == 404
    assert served.browser.get("/static/%2e%2e/pyproject.toml").status_code == 404


def test_sign_of_life(served):
    assert served.browser.get("/healthz").text == "ok\n"
