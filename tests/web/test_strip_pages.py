"""The chart strip by page: what is asked, how many pages it needs, and the PDF."""

from __future__ import annotations

import io
import re

import pypdf
import pytest

from server.navigation import PointKind, RoutePoint
from server.web import strip_pages
from tests.web.reading_pages import read


@pytest.fixture
def route(served) -> str:
    points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons[ident]) for ident in ("KEV", "PYL"))
    return f"{served.at}/routes/{served.keep_route(points=points).id}"


def test_the_log_leads_to_the_strip(served, route):
    assert f'href="{route}/strip"' in served.page(f"{route}/log").html


def test_the_page_counts_the_pages_that_the_pdf_then_has(served, route):
    page = served.page(f"{route}/strip?scale=250000&paper=A5")
    assert page.form(f"{route}/strip").fields == {"scale": "250000", "paper": "a5"}
    counted = int(re.search(r"1:250,000 on A5: (\d+) chart pages", page.words)[1])
    assert counted > 1
    assert f'href="{route}/strip.pdf?scale=250000&amp;paper=a5"' in page.html
    answer = served.browser.get(f"{route}/strip.pdf?scale=250000&paper=A5")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf"
    assert len(pypdf.PdfReader(io.BytesIO(answer.content)).pages) == counted + 1


def test_every_choice_has_its_count_and_its_pdf(served, route):
    page = served.page(f"{route}/strip")
    assert (
        len(re.findall(rf'href="{route}/strip\.pdf\?scale=(?:500000|250000)&amp;paper=(?:a4|a5|letter|half-letter)" aria-label', page.html))
        == 8
    )
    assert "1:500,000 on A4" in page.words


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter", "half-letter"])
def test_papers_are_known_by_their_names_however_they_are_written(served, route, paper):
    answer = served.browser.get(f"{route}/strip.pdf?scale=500000&paper={paper}")
    assert answer.status_code == 200 and f"-{paper.lower()}.pdf" in answer.headers["content-disposition"]


@pytest.mark.parametrize(
    ("question", "told"),
    [
        ("scale=100000", 'Scale: "100000" is not one of 500000, 250000.'),
        ("scale=", "Scale: please choose one of 500000, 250000."),
        ("scale=half", 'Scale: "half" is not one of 500000, 250000.'),
        ("paper=a0", 'Paper: "a0" is not one of a4, letter, a5, half-letter.'),
    ],
)
def test_an_unknown_scale_or_paper_is_refused_in_words_by_page_and_pdf(served, route, question, told):
    for address in (f"{route}/strip?{question}", f"{route}/strip.pdf?{question}"):
        answer = served.browser.get(address)
        assert answer.status_code == 422
        assert told in read(answer).words


def test_the_strip_of_a_route_that_is_not_there_is_not_found(served):
    assert served.browser.get(f"{served.at}/routes/77/strip").status_code == 404
    assert served.browser.get(f"{served.at}/routes/77/strip.pdf").status_code == 404


def test_a_choice_of_too_many_pages_is_told_and_has_no_pdf_to_lead_to(served, route, monkeypatch):
    monkeypatch.setattr(strip_pages, "MOST_STRIP_PAGES", 1)
    page = served.page(f"{route}/strip?scale=250000&paper=a5")
    assert "pages are too many" in page.words
    assert "scale=250000&amp;paper=a5" not in page.html
