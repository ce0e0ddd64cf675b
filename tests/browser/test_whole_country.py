"""The chart with a whole country's beacons in it: the US table of open data, every station that guides."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser import desk_hand as hand
from tests.browser.conftest import ROOT


@pytest.fixture(scope="module")
def country(site, open_data: Path) -> str:
    """A region with the whole table; its desk's address."""
    table = open_data / "navaids_us_nasr" / "NAV_BASE.csv"
    environment = {**os.environ, "BEACONRY_HOME": str(site.home), "BEACONRY_DATABASE_URL": ""}
    beaconry = str(Path(sys.executable).parent / "beaconry")
    for command in (("empty-region", "states", "States"), ("beacons", "--region", "states", str(table))):
        subprocess.run((beaconry, "load", *command), cwd=ROOT, env=environment, capture_output=True, check=False)
    return "/regions/states/desk"


def test_every_station_is_on_the_chart_and_only_so_many_are_drawn_as_symbols(page, country):
    page.goto(country)
    page.locator(".chart-signs .sign").first.wait_for(timeout=hand.WAIT_MS)
    assert page.evaluate("window.beaconryDesk.chart.places.length") > 1_500
    assert 100 < page.locator(".chart-signs .sign").count() <= 700


def test_a_station_is_found_by_its_ident_and_told_about(page, country):
    """The station at Mina, Nevada: MVA, 115.10 MHz in the table."""
    page.goto(country)
    page.locator(".chart-signs .sign").first.wait_for(timeout=hand.WAIT_MS)
    page.get_by_role("combobox", name="Place").fill("MVA")
    page.get_by_role("button", name="Show").click()
    page.locator("[data-card][data-answers]").wait_for(timeout=hand.WAIT_MS)
    assert "115.10 MHz" in page.locator("[data-here]").inner_text()
    assert page.locator(".chart-signs .rose").count() >= 1
