"""How quickly the planning desk answers: run ``python -m tests.benchmarks.desk``.

In Chromium on a served sample region: from letting go of a dragged leg to the new verdict on the screen, as a multiple of what the server
itself takes to survey that route; how much is sent; a relief tile as a multiple of encoding a blank one; and the chart with the whole US
table of beacons in it, where BEACONRY_OPEN_DATA leads to one. Times are of this machine: the ratios count.
"""

from __future__ import annotations

import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.browser import desk_hand as hand
from tests.browser.conftest import CHROMIUM, CHROMIUM_OPTIONS, ROOT

DRAGS = 40
TILES = 60
TARGETS = ("ODU", "VSU", "QORD", "QKES", "Dunmare", "QRAV")
"""Dropped beside them, each time elsewhere, so that no leg is one that was surveyed before."""
PRINTED = re.compile(r"http://127\.0\.0\.1:\d+")


SENT = """() => {
    const last = performance.getEntriesByType("resource").filter(({ name }) => name.endsWith("/desk/keep")).at(-1);
    performance.clearResourceTimings();
    return [last.transferSize, last.decodedBodySize];
}"""


def serve(home: Path):
    environment = {**os.environ, "BEACONRY_HOME": str(home), "BEACONRY_PORT": "0", "BEACONRY_DATABASE_URL": ""}
    server = subprocess.Popen(
        (str(Path(sys.executable).parent / "beaconry"), "serve"), cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True
    )
    return server, PRINTED.search(server.stdout.readline())[0]


def settle(page) -> None:
    """Wait until the server has its kernels and tables."""
    for _ in range(240):
        if not page.request.get("/looking-round").text().strip():
            return
        time.sleep(1.0)


def first_page_kb(browser, address: str) -> tuple[float, int]:
    """What a browser that has nothing yet is sent for the desk of a route, in kB, and in how many answers."""
    context = browser.new_context(base_url=address, viewport={"width": 1400, "height": 900})
    page = context.new_page()
    sent: list[int] = []
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.on("Network.loadingFinished", lambda event: sent.append(int(event["encodedDataLength"])))
    hand.open_desk(page, "/regions/vessune/routes/1")
    page.wait_for_timeout(2_000)
    context.close()
    return sum(sent) / 1000.0, len(sent)


def verdicts_ms(page) -> tuple[list[float], list[int], list[int]]:
    """Drag a leg to one place after another and back; each time from the end of the drag to the verdict on the screen [ms], and what was
    sent for it, packed and unpacked. [bytes]"""
    shown: list[float] = []
    sent: list[tuple[int, int]] = []
    for number in range(DRAGS + 4):
        before = hand.verdicts(page)
        x, y = hand.place(page, TARGETS[number % len(TARGETS)])
        aside = 20.0 + number // len(TARGETS) * 3.0
        hand.pull(page, hand.middle_of_leg(page, 3), (x + aside, y + (aside if number % 2 else -aside)))
        hand.wait_for_verdict(page, before)
        took_ms = float(page.locator("#desk").get_attribute("data-verdict-ms"))
        if number >= 4:  # the first ones warm up
            shown.append(took_ms)
            sent.append(page.evaluate(SENT))
        page.keyboard.press("Control+z")
        hand.wait_for_verdict(page, before + 1)
    return shown, [each[0] for each in sent], [each[1] for each in sent]


def survey_alone_ms() -> float:
    """What planning the sample flight takes without web, drawings and words, no leg remembered, in a process of its own. [ms]"""
    code = (
        "import time, statistics\n"
        "from server.app import create_app\n"
        "app = create_app(); desk = app.state.desk\n"
        "from server.planning import leg_radio\n"
        "from server.planning.survey_memory import SurveyMemory\n"
        "leg_radio._LATELY = SurveyMemory(most=0)\n"
        "from server.planning.materials import gather\n"
        "from server.planning.plan import plan\n"
        "took = []\n"
        "for _ in range(12):\n"
        "    materials = gather(desk.library, desk.terrain_store, 2, clock=desk.clock)\n"
        "    started = time.perf_counter(); plan(materials, checks=False); took.append(time.perf_counter() - started)\n"
        "print(statistics.median(took[3:]) * 1000.0)\n"
    )
    run = subprocess.run((sys.executable, "-c", code), cwd=ROOT, env=os.environ, capture_output=True, text=True, check=True)
    return float(run.stdout.split()[-1])


def tile_times_ms() -> tuple[float, float]:
    """Median of a relief tile of the sample region, and of encoding a blank tile. [ms]"""
    import io

    from PIL import Image

    from server.app import create_app
    from server.planning.materials import projection_of
    from server.sheets import relief_tile_webp
    from server.sheets.relief import TILE_QUALITY

    desk = create_app().state.desk
    with desk.library.read() as work:
        region = work.regions.by_slug("vessune")
    ground, projection = desk.terrain_store.open(region.ground_fingerprint), projection_of(region, [])
    made, blank = [], []
    for number in range(TILES):
        zoom, spread = 3 + number % 5, 2 ** (number % 5)
        started = time.perf_counter()
        relief_tile_webp(projection, ground, zoom=zoom, x=number % spread - spread // 2, y=number % 3 - 1)
        made.append(time.perf_counter() - started)
        started = time.perf_counter()
        out = io.BytesIO()
        Image.fromarray(np.full((256, 256, 3), 240, dtype=np.uint8)).save(out, format="WEBP", quality=TILE_QUALITY, method=0)
        blank.append(time.perf_counter() - started)
    return statistics.median(made[5:]) * 1000.0, statistics.median(blank[5:]) * 1000.0


def whole_country(browser, address: str, home: Path) -> dict[str, float]:
    """The chart with every beacon of the US table; nothing where that table is not at hand."""
    folder = os.environ.get("BEACONRY_OPEN_DATA", "")
    tables = sorted(Path(folder).rglob("NAV_BASE.csv")) if folder else []
    if not tables:
        return {}
    environment = {**os.environ, "BEACONRY_HOME": str(home), "BEACONRY_DATABASE_URL": ""}
    beaconry = str(Path(sys.executable).parent / "beaconry")
    subprocess.run((beaconry, "load", "empty-region", "whole", "Whole table"), cwd=ROOT, env=environment, check=True, capture_output=True)
    loaded = subprocess.run(
        (beaconry, "load", "beacons", "--region", "whole", str(tables[0])), cwd=ROOT, env=environment, capture_output=True, text=True
    )
    if loaded.returncode not in (0, 1):
        return {}
    context = browser.new_context(base_url=address, viewport={"width": 1400, "height": 900})
    page = context.new_page()
    page.set_default_timeout(60_000)
    started = time.perf_counter()
    page.goto("/regions/whole/desk")
    page.locator(".chart-signs .sign").first.wait_for()
    opened_s = time.perf_counter() - started
    draw_ms = page.evaluate(
        """() => {
            const { chart } = window.beaconryDesk, took = [];
            for (let k = 0; k < 12; k += 1) { const start = performance.now(); chart.draw(); took.push(performance.now() - start); }
            return took.sort((a, b) => a - b)[6];
        }"""
    )
    beacons = page.evaluate("window.beaconryDesk.chart.places.length")
    started = time.perf_counter()
    page.evaluate("window.beaconryDesk.choose(window.beaconryDesk.chart.places[700], { move: true })")
    page.locator("[data-card][data-answers]").wait_for()
    asked_s = time.perf_counter() - started
    context.close()
    return {
        "country_beacons": beacons,
        "country_open_s": round(opened_s, 2),
        "country_draw_ms": round(draw_ms, 1),
        "country_place_asked_s": round(asked_s, 2),
    }


def main() -> None:
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        home = Path(folder) / "home"
        os.environ["BEACONRY_HOME"] = str(home)
        os.environ["BEACONRY_DATABASE_URL"] = ""
        server, address = serve(home)
        try:
            browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=list(CHROMIUM_OPTIONS))
            page = browser.new_context(base_url=address, viewport={"width": 1400, "height": 900}).new_page()
            page.set_default_timeout(60_000)
            page.goto("/")
            settle(page)
            route = hand.copy_of_sample_route(page)
            hand.open_desk(page, route)
            shown, packed, unpacked = verdicts_ms(page)
            page_kb, answers = first_page_kb(browser, address)
            country = whole_country(browser, address, home)
            browser.close()
        finally:
            server.terminate()
            server.communicate(timeout=20)
        survey_ms = survey_alone_ms()
        tile_ms, blank_ms = tile_times_ms()
    print(f"from the end of a drag to the verdict on the screen: median {statistics.median(shown):.0f} ms, longest {max(shown):.0f} ms")
    print(f"the survey of the same flight, alone: {survey_ms:.0f} ms")
    print(f"an answer: {statistics.median(packed) / 1000.0:.0f} kB sent, {statistics.median(unpacked) / 1000.0:.0f} kB unpacked")
    print(f"the first page: {page_kb:.0f} kB in {answers} answers")
    print(f"a relief tile: {tile_ms:.1f} ms; a blank one encoded: {blank_ms:.2f} ms")
    figures = {
        "verdict_p50_ms": round(statistics.median(shown), 1),
        "verdict_p95_ms": round(float(np.percentile(shown, 95)), 1),
        "survey_ratio": round(statistics.median(shown) / survey_ms, 2),
        "tile_ratio": round(tile_ms / blank_ms, 2),
        "first_page_kb": round(page_kb, 1),
        "answer_kb": round(statistics.median(packed) / 1000.0, 1),
        **country,
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
