"""From two airfields to a printed log, as a pilot does it: with scripts, without, and with the keyboard alone."""

from __future__ import annotations

import re

import pytest

from tests.browser.printing import PAPERS, fetch_pdf, not_in, numbers_short, packed, print_page, size_of, texts_of_log, words_of_log
from tests.browser.site import DEPARTURE, DESTINATION, beacon_idents, fill_flight, follow, heading, open_sample_route, points

# International Morse, Recommendation ITU-R M.1677-1, part I, 1.1.1, from A to Z
MORSE_CODE = "·− −··· −·−· −·· · ··−· −−· ···· ·· ·−−− −·− ·−·· −− −· −−− ·−−· −−·− ·−· ··· − ··− ···− ·−− −··− −·−− −−··"
MORSE_LETTERS = dict(zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", MORSE_CODE.split(), strict=True))
CAUTION = re.compile("planning and training.*pilot in command")
FICTIONAL = re.compile("FICTIONAL REGION.*Not for navigation")


def find_chain(page) -> list[str]:
    """Walk from the start page to a route whose beacons the builder found; return their idents."""
    page.goto("/")
    follow(page, page.get_by_role("region", name="Vessune Isles").get_by_role("link", name="New route"))
    fill_flight(page)
    follow(page, page.get_by_role("button", name="Save the route"))
    follow(page, page.get_by_role("button", name="Find the beacon chain"))
    assert "The beacon chain was found" in page.get_by_role("status").inner_text()
    return beacon_idents(page)


def figures(page, label: str) -> list[str]:
    """Every value in the log that stands under this label."""
    return page.get_by_role("article").locator("dt", has_text=re.compile(f"^{re.escape(label)}$")).locator("xpath=../dd").all_inner_texts()


def what_is_flown(page) -> dict[str, list[str]]:
    """The numbers of the log a pilot acts on, by what they are."""
    tables = page.get_by_role("article").get_by_role("table").filter(has=page.get_by_role("columnheader", name="Set course"))
    rows = tables.get_by_role("row").all_inner_texts()
    tuned = [row for row in rows if re.search(r"\d (MHz|kHz)", row)]
    return {
        "frequencies": [re.search(r"[\d.]+ (MHz|kHz)", row)[0] for row in tuned],
        "Morse": [" ".join(re.findall(r"[·−]+", row)) for row in tuned],
        "idents": [re.search(r"(\w+)\s+[·−]", row)[1] for row in tuned],
        "selected courses": [re.search(r"\b(\d{3})\b(?=[^\d]*\b(TO|FROM)\b)", row)[1] for row in tuned],
        "headings": figures(page, "Heading M"),
        "compass headings": figures(page, "Compass"),
        "times": figures(page, "Time"),
        "arrivals": figures(page, "There at"),
        "distances": figures(page, "Distance NM"),
        "total": figures(page, "Distance"),
        "groundspeeds": figures(page, "Groundspeed kt"),
        "fuel left": figures(page, "Fuel left"),
    }


@pytest.mark.parametrize(("scripts", "paper"), [(True, "A4"), (False, "Letter")], ids=["with scripts on A4", "without scripts on Letter"])
def test_two_airfields_become_a_printed_log(window, scripts, paper):
    page = window.open(scripts=scripts)
    idents = find_chain(page)
    assert len(idents) >= 2
    assert points(page)[0].startswith(DEPARTURE) and points(page)[-1].startswith(DESTINATION)
    for name in ("chart", "section"):
        drawing = page.get_by_role("main").get_by_role("img", name=re.compile(name, re.I))
        assert drawing.count() == 1 and drawing.bounding_box()["height"] > 200

    follow(page, page.get_by_role("link", name="Open the log"))
    flown = what_is_flown(page)
    legs = len(idents) + 1
    assert all(len(flown[name]) >= legs for name in flown if name != "total"), flown
    assert all(re.fullmatch(r"\d{3}", text) for text in flown["headings"] + flown["selected courses"])
    assert set(flown["idents"]) == set(idents)
    assert flown["Morse"] == [" ".join(MORSE_LETTERS[letter] for letter in ident) for ident in flown["idents"]]
    whole = page.get_by_role("article").inner_text()
    assert CAUTION.search(whole) and FICTIONAL.search(whole)
    assert "30 min" in whole  # ICAO Annex 6 Part II, 2.2.3.6: VFR by day, final reserve of 30 minutes

    numbers = [number for kind in flown.values() for number in kind]
    follow(page, page.get_by_role("link", name=f"Page for {paper}"))
    printed = print_page(page)
    assert size_of(printed) == PAPERS[paper]
    assert not_in(printed, [*words_of_log(page), *numbers]) == []
    assert not numbers_short(printed, texts_of_log(page))
    made = fetch_pdf(page, page.get_by_role("link", name=f"PDF {paper}").get_attribute("href"))
    assert size_of(made) == PAPERS[paper]
    assert not_in(made, [CAUTION.search(whole)[0], FICTIONAL.search(whole)[0], *numbers]) == []
    assert not numbers_short(made, numbers)


def test_every_printed_sheet_carries_the_caution_and_the_fictional_notice(window):
    page = window.open()
    open_sample_route(page)
    follow(page, page.get_by_role("link", name="Open the log"))
    whole = page.get_by_role("article").inner_text()
    always = [CAUTION.search(whole)[0], FICTIONAL.search(whole)[0]]
    made = fetch_pdf(page, page.get_by_role("link", name="PDF A4").get_attribute("href"))
    for pdf in (print_page(page), made):
        assert len(pdf.pages) > 1
        for sheet in pdf.pages:
            shown = packed(sheet.extract_text())
            assert [words for words in always if packed(words) not in shown] == []


def test_keyboard_alone_reaches_every_field_in_reading_order(page):
    page.goto("/regions/vessune/routes/new")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.locator("details:not([open]) > summary").evaluate_all("closed => closed.forEach(one => { one.parentElement.open = true; })")
    controls = page.locator("main").locator("input:not([type=hidden]), select, textarea, button, a, summary")
    wanted = controls.evaluate_all("controls => controls.map(one => one.name || one.textContent.trim())")
    reached = []
    for _ in wanted:
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()"))
        assert outline_shows(page), f"no visible focus on {reached[-1]}"
    assert reached == wanted
    assert {"departure", "destination", "altitude_ft", "Save the route"} <= set(reached)


def test_keyboard_alone_finds_the_chain(page):
    page.goto("/regions/vessune/routes/new")
    fill_flight(page)
    page.get_by_role("button", name="Save the route").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == "Find the beacon chain":
            break
    assert outline_shows(page)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "The beacon chain was found" in page.get_by_role("status").inner_text()
    assert len(beacon_idents(page)) >= 2


def outline_shows(page) -> bool:
    """Whether the focused element has an outline of at least 2 px (WCAG 2.2, 2.4.13 asks for that thickness)."""
    return page.evaluate(
        "(() => { const style = getComputedStyle(document.activeElement);"
        " return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2; })()"
    )


def test_name_of_the_new_route_is_its_two_airfields(page):
    page.goto("/regions/vessune/routes/new")
    fill_flight(page)
    follow(page, page.get_by_role("button", name="Save the route"))
    assert heading(page) == f"{DEPARTURE} to {DESTINATION}"
