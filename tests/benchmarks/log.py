"""A log of 12 legs: planning and setting it as PDF beside an empty page by the same engine, and its page beside a bare page of its size.

Run: python -m tests.benchmarks.log

Warm: kernels compiled, crest tables made. The PDF is timed from the route in the database to the bytes, planned anew each time; its parts
too. The pages are served by uvicorn on this machine, in a process of its own, to two clients at once; the bare page is a template with as
many bytes as the log page, rendered for every request. The log page is asked for again and again unchanged, as by a reload: then its plan
is used again, once all it rests on was read from the database and found the same. What the first opening costs is printed too.
The last line is one JSON object.
"""

from __future__ import annotations

import json
import multiprocessing
import socket
import statistics
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import typst

from server.navigation import PointKind, Route, RoutePoint
from server.persistence import Library
from server.planning import plan
from server.planning.crest_work import CrestWork
from server.planning.load_region import load_region
from server.planning.materials import gather
from server.settings import PROJECT_ROOT
from server.sheets import chart_of, log_as_pdf, section_of
from server.terrain import TerrainStore

POINTS = ("ILV", "TSY", "ULR", "TSY", "VSU", "ODU", "ILV", "MSK", "ILV", "TSY", "ULR")
REPEATS, REQUESTS, CLIENTS = 7, 300, 2
EMPTY_PAGE = b'#set document(title: "empty")\n#set page(paper: "a4")\n'


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        library, store, number = furnished(home)
        pdf = pdf_times(library, store, number)
        library.close()
        pages = page_times(home, number)
    ratio = pdf["whole_ms"] / pdf["empty_ms"]
    parts = f"plan {pdf['plan_ms']:.0f} ms, drawings {pdf['drawings_ms']:.0f}, PDF {pdf['set_ms']:.0f}"
    print(f"12 legs: {parts}; in all {pdf['whole_ms']:.0f} ms. An empty page: {pdf['empty_ms']:.1f} ms.")
    again = f"opened first {pages['first_ms']:.0f} ms, then {pages['rate']:.0f} a second, p99 {pages['p99_ms']:.1f} ms"
    print(f"Log page of {pages['size_kb']:.0f} kB: {again}.")
    print(f"Bare page: {pages['bare_rate']:.0f} a second, p99 {pages['bare_p99_ms']:.1f} ms.")
    told = {
        "pdf_time_ratio": round(ratio, 1),
        "page_rate_ratio": round(pages["rate"] / pages["bare_rate"], 2),
        "page_p99_ratio": round(pages["p99_ms"] / pages["bare_p99_ms"], 2),
        **{name: round(value, 1) for name, value in {**pdf, **pages}.items()},
    }
    print(json.dumps(told))


def furnished(home: Path) -> tuple[Library, TerrainStore, int]:
    """The sample region with a route of 12 legs, and all its crest tables."""
    library, store = Library.open(f"sqlite:///{home / 'beaconry.sqlite3'}"), TerrainStore(home / "terrain")
    library.migrate(PROJECT_ROOT / "migrations")
    load_region(library, store, PROJECT_ROOT / "sample_region")
    with library.begin() as work:
        sample: Route = work.routes.get(1)
        beacons = {beacon.ident: beacon.id for beacon in work.beacons.list(sample.region_id)}
        points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=beacons[ident]) for ident in POINTS)
        fields = {"id": None, "name": "Twelve legs", "points": points, "version": 1, "fuel_on_board_l": 189.0}
        number = work.routes.add(Route(**{**{name: getattr(sample, name) for name in Route.__dataclass_fields__}, **fields})).id
    work = CrestWork(library, store)
    work.start()
    work.wait_until_done(600.0)
    work.stop()
    assert number is not None
    return library, store, number


def pdf_times(library: Library, store: TerrainStore, number: int) -> dict[str, float]:
    """Median times of the parts and of the whole. [ms]"""

    def planned():
        return plan(gather(library, store, number))

    def whole():
        made = planned()
        return log_as_pdf(made.log, paper="a4", chart_svg=chart_of(made), section_svg=section_of(made))

    once = planned()
    drawings = {"chart_svg": chart_of(once), "section_svg": section_of(once)}

    def drawn():
        made = planned()
        return chart_of(made), section_of(made)

    def empty_page():
        return typst.compile(EMPTY_PAGE, format="pdf", ignore_system_fonts=True, pdf_standards="ua-1")

    whole()
    plan_ms = median_ms(planned)
    return {
        "plan_ms": plan_ms,
        "drawings_ms": median_ms(drawn) - plan_ms,
        "set_ms": median_ms(lambda: log_as_pdf(once.log, paper="a4", **drawings)),
        "bare_ms": median_ms(lambda: log_as_pdf(once.log, paper="a4")),
        "whole_ms": median_ms(whole),
        "empty_ms": median_ms(empty_page),
    }


def median_ms(work: Callable[[], object]) -> float:
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append((time.perf_counter() - start) * 1000.0)
    return statistics.median(times)


def serve(home: Path, port: int, size: int) -> None:
    """Serve Beaconry and beside it a bare page of a size. Runs in a process of its own."""
    import uvicorn
    from fastapi.responses import HTMLResponse
    from jinja2 import DictLoader, Environment

    from server.app import create_app
    from server.settings import Settings

    app = create_app(Settings(home=home))
    template = Environment(loader=DictLoader({"bare": "<p>{{ said }}</p>" + "x" * size}), autoescape=True).get_template("bare")

    @app.get("/bare")
    def bare():
        return HTMLResponse(template.render(said="bare"))

    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error")


def page_times(home: Path, number: int) -> dict[str, float]:
    """Requests a second and the 99th percentile of both pages."""
    path = f"/regions/vessune/routes/{number}/log"
    with served(home, 0) as at:
        httpx.get(f"{at}/", timeout=120.0)
        start = time.perf_counter()
        size = len(httpx.get(f"{at}{path}", timeout=120.0).content)
        first_ms = (time.perf_counter() - start) * 1000.0
    with served(home, size) as at:
        httpx.get(f"{at}{path}", timeout=120.0)
        bare_rate, bare_p99_ms = load(f"{at}/bare")
        rate, p99_ms = load(f"{at}{path}")
    return {
        "size_kb": size / 1000.0,
        "first_ms": first_ms,
        "rate": rate,
        "p99_ms": p99_ms,
        "bare_rate": bare_rate,
        "bare_p99_ms": bare_p99_ms,
    }


class served:
    """A server in a process of its own, for a while."""

    def __init__(self, home: Path, size: int):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process = multiprocessing.get_context("spawn").Process(target=serve, args=(home, self.port, size), daemon=True)

    def __enter__(self) -> str:
        self.process.start()
        at = f"http://127.0.0.1:{self.port}"
        for _ in range(600):
            try:
                if httpx.get(f"{at}/looking-round", timeout=5.0).text == "":
                    return at
            except httpx.HTTPError:
                pass
            time.sleep(0.1)
        raise RuntimeError("the server did not come up")

    def __exit__(self, *_error) -> None:
        self.process.terminate()
        self.process.join()


def load(address: str) -> tuple[float, float]:
    """Ask for a page by two clients at once: requests a second, and the 99th percentile. [ms]"""

    def client(_number: int) -> list[float]:
        times = []
        with httpx.Client(timeout=60.0) as browser:
            browser.get(address)
            for _ in range(REQUESTS // CLIENTS):
                start = time.perf_counter()
                assert browser.get(address).status_code == 200
                times.append((time.perf_counter() - start) * 1000.0)
        return times

    start = time.perf_counter()
    with ThreadPoolExecutor(CLIENTS) as clients:
        times = sorted(one for each in clients.map(client, range(CLIENTS)) for one in each)
    return len(times) / (time.perf_counter() - start), times[int(len(times) * 0.99)]


if __name__ == "__main__":
    main()
