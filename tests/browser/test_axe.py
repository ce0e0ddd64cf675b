"""axe-core over every kind of page: nothing serious or critical may be found, in the wide window and in the narrow one."""

from __future__ import annotations

from importlib import resources

import pytest

from tests.browser import desk_hand as hand
from tests.browser.site import REGION
from tests.browser.test_every_page import PAGES

MORE_PAGES = {
    "desk": f"{REGION}/desk",
    "desk with a route": f"{REGION}/routes/1/desk",
    "workshop": f"{REGION}/workshop",
    "coverage": f"{REGION}/beacons/8/coverage",
    "heard": f"{REGION}/heard?position=43+30N+036+30W&altitude_ft=6500",
    "fixes": f"{REGION}/fixes",
    "levels": f"{REGION}/routes/1/levels",
    "working": f"{REGION}/routes/1/log/working",
    "bring in": f"{REGION}/bring-in-route",
}
RUN = """async () => {
    const found = await axe.run(document, { resultTypes: ["violations"] });
    const told = ({ target, failureSummary }) => `${target} ${failureSummary}`;
    return found.violations
        .filter(({ impact }) => impact === "serious" || impact === "critical")
        .map(({ id, impact, nodes }) => `${impact} ${id}: ${nodes.slice(0, 3).map(told).join("; ")}`);
}"""


@pytest.fixture(scope="session")
def axe() -> str:
    """The checker's source, from the Python package that carries it."""
    package = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed")
    return (resources.files(package) / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture
def looked_over(chromium, site, axe):
    """Opens a page in a context that lets the checker in: the pages' own policy forbids foreign scripts."""
    contexts = []

    def look(address: str, *, width: int = 1200, ready=None) -> list[str]:
        context = chromium.new_context(base_url=site.address, bypass_csp=True, viewport={"width": width, "height": 900})
        contexts.append(context)
        context.set_default_timeout(hand.WAIT_MS)
        page = context.new_page()
        page.goto(address)
        if ready is not None:
            ready(page)
        page.add_script_tag(content=axe)
        return page.evaluate(RUN)

    yield look
    for context in contexts:
        context.close()


@pytest.mark.parametrize("address", [*PAGES.values(), *MORE_PAGES.values()], ids=[*PAGES, *MORE_PAGES])
def test_axe_finds_nothing_serious(looked_over, address):
    assert looked_over(address) == []


def route_is_there(page) -> None:
    page.locator("[data-panel] .verdict").wait_for()
    page.get_by_role("button", name="QMAR", exact=True).click()
    page.locator("[data-card][data-answers]").wait_for()
    page.get_by_text("Layers and legend").click()


@pytest.mark.parametrize("width", [1200, 360])
def test_axe_finds_nothing_serious_on_the_desk_in_use(looked_over, width):
    assert looked_over(f"{REGION}/routes/1/desk", width=width, ready=route_is_there) == []


def test_axe_would_find_what_is_serious(looked_over):
    def spoil(page):
        page.evaluate("() => { document.querySelector('main').innerHTML = '<input><img src=x><button></button>'; }")

    assert len(looked_over("/", ready=spoil)) >= 2
