"""The planning desk in a real browser: a route made and changed by mouse, keyboard and touch, and what is kept when things go wrong."""

from __future__ import annotations

import re

import pytest

from tests.browser import desk_hand as hand
from tests.browser.site import REGION


@pytest.fixture
def route(page) -> str:
    return hand.copy_of_sample_route(page)


def points_kept(page, route: str) -> list[str]:
    """The points between the ends, as the server keeps them."""
    return [point["kind"] for point in hand.stored(page, route)["points"]]


def test_a_route_is_made_by_mouse_alone(page):
    hand.open_desk(page)
    page.mouse.click(*hand.place(page, "QMAR"))
    page.get_by_role("button", name="Depart here").click()
    page.mouse.click(*hand.place(page, "QTES"))
    page.get_by_role("button", name="Fly to here").click()
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    assert hand.stops(page) == ["QMAR", "QTES"]
    assert re.search(r"/routes/\d+/desk$", page.url), "a kept route has an address of its own"
    before = hand.verdicts(page)
    hand.pull(page, hand.middle_of_leg(page, 1), hand.place(page, "ILV"))
    hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "ILV", "QTES"]
    assert points_kept(page, page.url.removesuffix("/desk")) == ["beacon"]


def test_a_route_is_made_and_changed_by_keyboard_alone(page):
    hand.open_desk(page)
    find = page.get_by_role("combobox", name="Place")
    for ident, button in (("QMAR", "Depart here"), ("QTES", "Fly to here")):
        find.focus()
        page.keyboard.type(ident)
        page.keyboard.press("Enter")
        while page.evaluate("document.activeElement.textContent") != button:
            page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        find.evaluate("box => { box.value = ''; }")
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    for ident in ("ILV", "TSY"):
        before = hand.verdicts(page)
        find.focus()
        page.keyboard.press("Control+a")
        page.keyboard.type(ident)
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")  # the focus is on "Fly over"
        hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "ILV", "TSY", "QTES"]
    before = hand.verdicts(page)
    page.get_by_role("button", name="Move TSY earlier").press("Enter")
    hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "TSY", "ILV", "QTES"]
    page.keyboard.press("Control+z")
    hand.wait_for_verdict(page, before + 1)
    assert hand.stops(page) == ["QMAR", "ILV", "TSY", "QTES"]
    page.get_by_role("button", name="Reverse").press("Enter")
    hand.wait_for_verdict(page, before + 2)
    assert hand.stops(page) == ["QTES", "TSY", "ILV", "QMAR"]
    page.get_by_role("button", name="Take ILV out").press("Enter")
    hand.wait_for_verdict(page, before + 3)
    assert hand.stops(page) == ["QTES", "TSY", "QMAR"]


def test_the_chart_is_moved_and_asked_by_keyboard(page):
    hand.open_desk(page)
    page.locator("#desk-map").focus()
    before = hand.place(page, "ILV")
    page.keyboard.press("ArrowRight")
    hand.until(page, lambda: hand.place(page, "ILV")[0] < before[0] - 40)  # the map library moves smoothly
    page.keyboard.press("Enter")
    page.locator("[data-card][data-answers]").wait_for(timeout=hand.WAIT_MS)
    assert page.locator("[data-here]").is_visible()


def touch_screen(window):
    """A page under a finger, and how the finger speaks to the browser."""
    context = window.browser.new_context(base_url=window.site.address, has_touch=True, viewport={"width": 1000, "height": 1100})
    context.set_default_timeout(15_000)
    window.contexts.append(context)
    page = context.new_page()
    page.on("pageerror", lambda error: window.troubles.append(f"script error: {error}"))
    return page, context.new_cdp_session(page)


def drag_by_finger(finger, start, end) -> None:
    def touch(kind: str, *points) -> None:
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]})

    touch("touchStart", start)
    for step in range(1, 9):
        touch("touchMove", (start[0] + (end[0] - start[0]) * step / 8, start[1] + (end[1] - start[1]) * step / 8))
    touch("touchEnd")


def test_a_route_is_made_and_a_leg_is_dragged_by_touch(window):
    page, finger = touch_screen(window)
    hand.open_desk(page)
    page.touchscreen.tap(*hand.place(page, "QMAR"))
    page.get_by_role("button", name="Depart here").tap()
    page.touchscreen.tap(*hand.place(page, "QTES"))
    page.get_by_role("button", name="Fly to here").tap()
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    page.locator("#desk-map").scroll_into_view_if_needed()
    before = hand.verdicts(page)
    drag_by_finger(finger, hand.middle_of_leg(page, 1), hand.place(page, "ILV"))
    hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "ILV", "QTES"]


def test_a_finger_beside_the_route_moves_the_chart_and_changes_nothing(window):
    page, finger = touch_screen(window)
    route = hand.copy_of_sample_route(page)
    hand.open_desk(page, route)
    x, y = hand.place(page, "QRAV")
    drag_by_finger(finger, (x, y), (x - 90, y + 40))
    hand.until(page, lambda: hand.place(page, "QRAV")[0] < x - 40)
    assert hand.verdicts(page) == 0


def test_a_leg_that_is_dragged_is_judged_before_it_is_let_go(page, route):
    hand.open_desk(page, route)
    kept = hand.stored(page, route)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"), let_go=False)
    page.locator("[data-verdict]").filter(has_text="5 legs").wait_for(timeout=hand.WAIT_MS)
    assert hand.stored(page, route) == kept, "what is only tried is not kept"
    before = hand.verdicts(page)
    page.mouse.up()
    hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "ILV", "TSY", "ODU", "ULR", "QSEN"]
    assert len(hand.stored(page, route)["points"]) == 4


def test_escape_lets_go_of_a_leg_and_nothing_is_changed(page, route):
    hand.open_desk(page, route)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"), let_go=False)
    page.keyboard.press("Escape")
    page.mouse.up()
    page.locator("[data-verdict]").filter(has_text="4 legs").wait_for(timeout=hand.WAIT_MS)
    assert len(hand.stored(page, route)["points"]) == 3


def test_what_was_done_is_undone_after_the_page_was_loaded_again(page, route):
    hand.open_desk(page, route)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"))
    hand.wait_for_verdict(page, 0)
    page.reload()
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    assert "ODU" in hand.stops(page)
    page.get_by_role("button", name="Undo").click()
    hand.wait_for_verdict(page, 0)
    assert "ODU" not in hand.stops(page)
    assert len(hand.stored(page, route)["points"]) == 3
    page.get_by_role("button", name="Redo").click()
    hand.wait_for_verdict(page, 1)
    assert "ODU" in hand.stops(page)


def test_a_change_made_without_a_connection_is_kept_and_sent_when_it_is_back(window, page, route):
    window.unlinked = True
    hand.open_desk(page, route)
    page.context.set_offline(True)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"))
    page.get_by_text("No connection to the server. Your change is kept on this page and sent again.").wait_for()
    assert len(hand.stored(page, route)["points"]) == 3
    page.context.set_offline(False)
    hand.wait_for_verdict(page, 0)
    assert page.locator("[data-link]").inner_text() == ""
    assert len(hand.stored(page, route)["points"]) == 4


def test_a_change_that_was_never_sent_survives_a_reload(window, page, route):
    window.unlinked = True
    hand.open_desk(page, route)
    page.context.set_offline(True)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"))
    page.get_by_text("Your change is kept on this page").wait_for()
    page.evaluate("() => { window.fetch = () => Promise.reject(new Error('still away')); }")  # it is not sent before the page is left
    page.context.set_offline(False)
    page.reload()
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    page.locator("[data-panel] .stop-name", has_text="ODU").wait_for(timeout=hand.WAIT_MS)
    assert len(hand.stored(page, route)["points"]) == 4


def someone_else_takes_tessary_out(page, route: str) -> None:
    """In a window of their own, while ours stays as it is."""
    other = page.context.new_page()
    hand.open_desk(other, route)
    other.get_by_role("button", name="Take TSY out").click()
    hand.wait_for_verdict(other, 0)
    page.bring_to_front()


def test_a_change_made_elsewhere_is_told_and_neither_is_lost(window, page, route):
    window.expected.add(409)
    hand.open_desk(page, route)
    someone_else_takes_tessary_out(page, route)
    hand.pull(page, hand.middle_of_leg(page, 4), hand.place(page, "SRY"))
    page.get_by_role("button", name="Put mine in its place").wait_for()
    assert len(hand.stored(page, route)["points"]) == 2
    page.get_by_role("button", name="Take what is there now").click()
    page.locator("[data-panel]:not([inert])").wait_for(timeout=hand.WAIT_MS)
    assert hand.stops(page) == ["QMAR", "ILV", "ULR", "QSEN"]
    before = hand.verdicts(page)
    page.get_by_role("button", name="Undo").click()
    hand.wait_for_verdict(page, before)
    assert hand.stops(page) == ["QMAR", "ILV", "TSY", "ULR", "SRY", "QSEN"], "mine is one step back"


def test_a_reload_while_two_changes_stand_against_each_other_overwrites_neither(window, page, route):
    window.expected.add(409)
    hand.open_desk(page, route)
    someone_else_takes_tessary_out(page, route)
    hand.pull(page, hand.middle_of_leg(page, 4), hand.place(page, "SRY"))
    page.get_by_role("button", name="Put mine in its place").wait_for()
    page.reload()
    page.get_by_role("button", name="Put mine in its place").wait_for(timeout=hand.WAIT_MS)
    assert len(hand.stored(page, route)["points"]) == 2
    page.get_by_role("button", name="Put mine in its place").click()
    page.locator("[data-panel] .stop-name", has_text="SRY").wait_for(timeout=hand.WAIT_MS)
    assert len(hand.stored(page, route)["points"]) == 4


def test_an_answer_that_was_lost_on_the_way_is_no_conflict(window, page, route):
    window.unlinked = True
    window.expected.add(409)
    hand.open_desk(page, route)
    lost = []

    def lose(sent):
        if not lost:
            lost.append(sent.fetch().status)
            sent.abort()
        else:
            sent.continue_()

    page.route("**/desk/keep", lose)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"))
    page.locator("[data-panel]:not([inert]) .stop-name", has_text="ODU").wait_for(timeout=hand.WAIT_MS)
    assert lost == [200]
    assert not page.get_by_role("button", name="Put mine in its place").is_visible()
    assert len(hand.stored(page, route)["points"]) == 4


def test_undo_after_opening_again_never_takes_back_what_others_did(page, route):
    hand.open_desk(page, route)
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "ODU"))
    hand.wait_for_verdict(page, 0)
    someone_else_takes_tessary_out(page, route)
    page.reload()
    page.locator("[data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    assert page.get_by_role("button", name="Undo").is_disabled()
    assert "TSY" not in hand.stops(page)


def test_a_second_click_before_the_answer_is_there_does_nothing(page, route):
    hand.open_desk(page, route)
    button = page.get_by_role("button", name="Take ILV out")
    button.scroll_into_view_if_needed()  # the notes above it may push it below the window
    box = button.bounding_box()
    page.mouse.dblclick(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    hand.wait_for_verdict(page, 0)
    page.wait_for_timeout(500)
    assert hand.stops(page) == ["QMAR", "TSY", "ULR", "QSEN"]


def test_a_route_begun_in_haste_is_one_route(page):
    hand.open_desk(page)
    before = page.request.get(f"{REGION}/routes").text().count("/log")
    page.evaluate(
        """() => {
            const desk = window.beaconryDesk, named = (ident) => desk.chart.places.find((each) => each.ident === ident);
            desk.start(named("QMAR"), named("QTES"));
            desk.change({ ...desk.draft, altitude_ft: 8500 });
            desk.change({ ...desk.draft, altitude_ft: 7500 });
        }"""
    )
    page.locator("#desk:not(.waiting) [data-panel] .verdict").wait_for(timeout=hand.WAIT_MS)
    page.wait_for_timeout(500)
    assert page.request.get(f"{REGION}/routes").text().count("/log") == before + 1
    assert hand.stored(page, page.url.removesuffix("/desk"))["altitude_ft"] == 7500
    assert page.get_by_role("link", name="Open the log").is_visible()


def test_what_waits_for_its_answer_is_marked_as_the_route_before(window, page, route):
    window.unlinked = True
    hand.open_desk(page, route)
    page.context.set_offline(True)
    page.get_by_label("Altitude [ft]").fill("3000")
    page.get_by_label("Altitude [ft]").press("Enter")
    page.get_by_text("No connection to the server").wait_for()
    panel = page.locator("[data-panel]")
    assert panel.get_attribute("aria-busy") == "true"
    assert float(panel.evaluate("each => getComputedStyle(each).opacity")) < 0.6
    page.context.set_offline(False)
    page.locator("[data-panel][aria-busy=false]").wait_for(timeout=hand.WAIT_MS)


def test_an_altitude_that_was_emptied_changes_nothing_and_zero_is_a_number(page, route):
    hand.open_desk(page, route)
    box = page.get_by_label("Altitude [ft]")
    box.fill("")
    box.press("Enter")
    assert box.input_value() == "9500" and hand.stored(page, route)["altitude_ft"] == 9500
    box.fill("0")
    box.press("Enter")
    page.locator("[data-verdict]").filter(has_text="STOP").wait_for(timeout=hand.WAIT_MS)
    assert hand.stored(page, route)["altitude_ft"] == 0


def test_a_step_from_one_leg_on_starts_at_the_level_of_that_leg(page, route):
    hand.open_desk(page, route)
    page.get_by_label("only from this leg on").check()
    page.locator("[data-section]").focus()
    page.keyboard.press("End")
    page.keyboard.press("ArrowDown")
    hand.wait_for_verdict(page, 0)
    page.keyboard.press("ArrowDown")
    hand.wait_for_verdict(page, 1)
    kept = hand.stored(page, route)
    assert kept["altitude_ft"] == 9500 and kept["points"][-1]["onward"]["altitude_ft"] == 8500


def test_escape_lets_go_of_the_height_line(page, route):
    hand.open_desk(page, route)
    page.locator("[data-section] svg").scroll_into_view_if_needed()
    x, y = page.evaluate(
        """() => {
            const { section } = window.beaconryDesk, nm = section.total / 2;
            const spot = new DOMPoint(section.x(nm), section.y(section.altitudeAt(nm))).matrixTransform(section.svg.getScreenCTM());
            return [spot.x, spot.y];
        }"""
    )
    hand.pull(page, (x, y), (x, y + 60), let_go=False)
    page.keyboard.press("Escape")
    page.mouse.up()
    page.wait_for_timeout(400)
    assert hand.stored(page, route)["altitude_ft"] == 9500 and page.get_by_label("Altitude [ft]").input_value() == "9500"


def test_closing_the_panel_of_a_place_leaves_the_keyboard_on_the_chart(page):
    hand.open_desk(page)
    page.mouse.click(*hand.place(page, "QORD"))
    page.get_by_role("button", name="close").press("Enter")
    assert page.evaluate("document.activeElement.id") == "desk-map"


def test_a_route_cannot_begin_on_a_beacon(page, route):
    hand.open_desk(page, route)
    hand.pull(page, hand.place(page, "QMAR"), hand.place(page, "MSK"))
    page.get_by_text("A route begins and ends at an airfield. Drop it onto one.").wait_for()
    assert hand.stops(page)[0] == "QMAR"


def test_moving_along_the_section_shows_the_place_and_its_card(page, route):
    hand.open_desk(page, route)
    section = page.locator("[data-section] svg")
    section.scroll_into_view_if_needed()
    box = section.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.4, box["y"] + box["height"] * 0.3)
    page.locator("[data-card][data-answers]").wait_for(timeout=hand.WAIT_MS)
    assert page.locator(".section-mark").count() == 1
    card = page.locator("[data-card]")
    for words in ("Ground", "Height above it", "Variation", "Best fix here", "Nearest airfields"):
        assert words in card.inner_text()
    indicator = card.locator("svg.indicator")
    assert indicator.count() == 1
    assert re.search(r"with \d{3} set", card.inner_text()), "the card tells the planned selected course"


def test_the_section_is_walked_by_keyboard(page, route):
    hand.open_desk(page, route)
    page.locator("[data-section]").focus()
    page.keyboard.press("Home")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.locator("[data-card][data-answers]").wait_for(timeout=hand.WAIT_MS)
    assert page.evaluate("window.beaconryDesk.section.at") == 5
    before = hand.verdicts(page)
    page.keyboard.press("ArrowDown")
    hand.wait_for_verdict(page, before)
    assert page.get_by_label("Altitude [ft]").input_value() == "9000"


def test_the_height_line_is_dragged_and_legs_go_from_received_to_lost(page, route):
    hand.open_desk(page, route)
    assert "leg 2 not received" not in hand.status(page)
    page.locator("[data-section] svg").scroll_into_view_if_needed()
    start, end = page.evaluate(
        """() => {
            const { section } = window.beaconryDesk, nm = section.total / 2;
            const spot = (ft) => new DOMPoint(section.x(nm), section.y(ft)).matrixTransform(section.svg.getScreenCTM());
            return [section.altitudeAt(nm), 4000].map(spot).map(({ x, y }) => [x, y]);
        }"""
    )
    hand.pull(page, start, end, let_go=False)
    page.locator("[data-verdict]").filter(has_text="leg 2 not received").wait_for(timeout=hand.WAIT_MS)
    assert hand.stored(page, route)["altitude_ft"] == 9500.0
    page.mouse.up()
    hand.wait_for_verdict(page, 0)
    assert hand.stored(page, route)["altitude_ft"] == pytest.approx(4000.0, abs=100.0)


def test_a_place_can_be_asked_and_the_best_fix_is_drawn(page):
    hand.open_desk(page)
    page.mouse.click(*hand.place(page, "QORD"))
    page.locator("[data-card][data-answers]").wait_for(timeout=hand.WAIT_MS)
    assert page.locator(".fix-ellipse").count() == 1
    assert "95 times in a hundred" in page.locator("[data-card]").inner_text()


@pytest.mark.parametrize(
    ("layer", "words"),
    [("areas", "is not received"), ("lowest", "lowest altitude"), ("limits", "At 6,500 ft"), ("fixes", "VOR stations")],
)
def test_each_layer_is_shown_with_its_key_in_words(page, layer, words):
    hand.open_desk(page)
    page.get_by_text("Layers and legend").click()
    page.get_by_label("Beacon", exact=True).select_option(label="TSY VORTAC Tessary")
    page.get_by_label("Show", exact=True).select_option(value=layer)
    page.locator("[data-layer-words]").filter(has_text=words).wait_for(timeout=hand.WAIT_MS)
    assert page.locator("[data-layer-key] li").count() >= 1
    assert page.locator(".leaflet-area-pane path").count() >= 1


def test_every_step_is_left_off_cleanly_with_scripts_off(window):
    page = window.open(scripts=False)
    page.goto(f"{REGION}/routes/1/desk")
    assert page.get_by_role("link", name="the route as a table").is_visible()
    assert not page.locator("#desk-map").is_visible()


@pytest.mark.parametrize("width", [360, 620], ids=["a phone", "a laptop at 200 %"])
def test_the_desk_fits_a_narrow_window(window, width):
    page = window.open(width=width)
    hand.open_desk(page, f"{REGION}/routes/1")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    box = page.locator("#desk-map").bounding_box()
    assert box["width"] > width * 0.85 and box["height"] >= 300
    for name in ("Undo", "Reverse"):
        assert page.get_by_role("button", name=name).is_visible()


def test_labels_of_the_chart_do_not_lie_over_one_another(page):
    hand.open_desk(page)
    boxes = page.evaluate(
        """() => [...document.querySelectorAll(".chart-signs .label-back, .chart-signs .place-words, .chart-signs .spot-words")]
            .map((each) => { const box = each.getBoundingClientRect(); return [box.left, box.top, box.right, box.bottom]; })"""
    )
    assert len(boxes) > 25
    over = [
        (one, other)
        for index, one in enumerate(boxes)
        for other in boxes[index + 1 :]
        if min(one[2], other[2]) - max(one[0], other[0]) > 6 and min(one[3], other[3]) - max(one[1], other[1]) > 6
    ]
    assert over == []


def test_nothing_moves_under_the_pointer_while_a_leg_is_dragged(page, route):
    """The words of the verdict grow and shrink; the chart must not."""
    page.set_viewport_size({"width": 700, "height": 900})
    hand.open_desk(page, route)
    page.locator("#desk-map").scroll_into_view_if_needed()
    before = page.locator("#desk-map").bounding_box()
    hand.pull(page, hand.middle_of_leg(page, 3), hand.place(page, "QRAV"), let_go=False)
    page.locator("[data-verdict]").filter(has_text="5 legs").wait_for(timeout=hand.WAIT_MS)
    page.evaluate("document.querySelector('[data-verdict]').textContent += ' more words'.repeat(60)")
    assert page.locator("#desk-map").bounding_box() == before
    page.mouse.up()


def test_the_beacon_chain_is_found_on_the_desk_and_can_be_undone(page, route):
    hand.open_desk(page, route)
    first = hand.stops(page)
    page.get_by_role("button", name="Take ILV out").click()
    hand.wait_for_verdict(page, 0)
    page.get_by_role("button", name="Find the beacon chain").click()
    hand.wait_for_verdict(page, 1)
    assert hand.stops(page) != first[:1] + first[2:]
    page.get_by_role("button", name="Undo").click()
    hand.wait_for_verdict(page, 2)
    assert hand.stops(page) == first[:1] + first[2:]


def test_ctrl_z_in_the_middle_of_a_drag_takes_nothing_back(page, route):
    hand.open_desk(page, route)
    page.get_by_role("button", name="Take TSY out").click()
    hand.wait_for_verdict(page, 0)
    hand.pull(page, hand.middle_of_leg(page, 2), hand.place(page, "ODU"), let_go=False)
    page.keyboard.press("Control+z")
    page.mouse.up()
    hand.wait_for_verdict(page, 1)
    assert "TSY" not in hand.stops(page) and "ODU" in hand.stops(page)


def test_undo_after_refused_changes_comes_back_to_the_last_route_that_was_kept(window, page, route):
    window.expected.add(422)
    hand.open_desk(page, route)
    box = page.get_by_label("Altitude [ft]")
    for feet in ("300000", "61000"):
        box.fill(feet)
        box.press("Enter")
        page.get_by_text(f"Not kept: {feet} ft is not an altitude to plan at").wait_for(timeout=hand.WAIT_MS)
    page.get_by_role("button", name="Undo").click()
    hand.wait_for_verdict(page, 0)
    assert box.input_value() == "9500" and page.get_by_role("button", name="Undo").is_disabled()
    assert hand.stored(page, route)["altitude_ft"] == 9500
