"""The log on paper, read back from the PDF."""

from __future__ import annotations

import io
import json
import math
import re
import shutil
import subprocess
from collections import Counter
from dataclasses import fields, is_dataclass

import pypdf
import pytest

from server.navigation import NorthReference, Position, WindLayer
from server.planning import plan
from server.planning.log import NavigationLog
from server.sheets import cautions, log_as_json
from server.sheets.log_pdf import PAPERS, log_as_pdf
from server.sheets.log_sheet import log_sheet
from server.sheets.log_text import log_as_text
from server.sheets.section import route_section_svg
from tests.planning.planning_builders import a_tourer, a_vor, card_of, materials_for, over
from tests.sheets.sheet_builders import RidgeGround, a_hostile_log, a_log, a_long_log


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def squeezed(text: str) -> str:
    """Text without blanks and without the invisible marks where a long word may break."""
    return re.sub(r"[\s\u200b\u00ad]", "", text)


def planned() -> NavigationLog:
    """A flight as the planner makes it: with a climb, cross-checks, and a beacon flown over."""
    beacons = a_vor("AAA", Position(lat_deg=43.1, lon_deg=-36.4), number=1), a_vor("BBB", Position(lat_deg=43.35, lon_deg=-35.7), number=2)
    winds = (WindLayer(altitude_ft=3000.0, from_deg=231.0, speed_kt=9.0, reference=NorthReference.TRUE),)
    aircraft = a_tourer(compass_card=card_of(-2.0))
    return plan(materials_for(*(over(beacon) for beacon in beacons), beacons=beacons, winds=winds, aircraft=aircraft)).log


@pytest.fixture(scope="module")
def sample() -> bytes:
    return log_as_pdf(a_log(), paper="a4")


def texts_in(value) -> list[str]:
    """Every text of a row, however deep; the name of a tuned station is shortened by nothing and the working is a page of its own."""
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [text for field in fields(value) if field.name != "working" for text in texts_in(getattr(value, field.name))]
    return [text for item in value for text in texts_in(item)]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_paper_holds_every_figure_and_sentence_of_the_log(paper):
    log = planned()
    printed = squeezed("".join(pages_of(log_as_pdf(log, paper=paper))))
    sheet = log_sheet(log)
    assert any(leg.checks for leg in sheet.legs) and any(leg.passage for leg in sheet.legs) and any(leg.parts for leg in sheet.legs)
    for leg in sheet.legs:
        for text in texts_in(leg):
            assert squeezed(text) in printed, text
    for words in (sheet.total_distance, sheet.total_time, sheet.fuel_verdict, *sheet.off_flag_meanings, sheet.not_checked, *sheet.notes):
        assert squeezed(words) in printed
    for text in texts_in((sheet.fuel_rows, sheet.sources, sheet.cards)):
        assert squeezed(text) in printed, text


def test_paper_and_text_say_the_same_sentences(sample):
    printed, told = squeezed("".join(pages_of(sample))), squeezed(log_as_text(a_log()))
    for leg in log_sheet(a_log()).legs:
        for sentence in (*leg.findings, *leg.notes, leg.changeover):
            assert squeezed(sentence) in printed
            assert squeezed(sentence) in told


# ISO 216: A4 is 210 x 297 mm, A5 148 x 210. ANSI/ASME Y14.1: Letter is 8.5 x 11 in. One point is 1/72 in.
SIZES_MM = {"a4": (297.0, 210.0), "letter": (279.4, 215.9), "a5": (148.0, 210.0), "half-letter": (139.7, 215.9)}


@pytest.mark.parametrize("paper", SIZES_MM)
def test_pages_have_the_size_of_the_paper(paper):
    width_mm, height_mm = SIZES_MM[paper]
    for page in pypdf.PdfReader(io.BytesIO(log_as_pdf(a_log(), paper=paper))).pages:
        assert float(page.mediabox.width) * 25.4 / 72.0 == pytest.approx(width_mm, abs=0.2)
        assert float(page.mediabox.height) * 25.4 / 72.0 == pytest.approx(height_mm, abs=0.2)


def test_every_page_carries_the_notice_the_caution_and_its_number():
    pages = pages_of(log_as_pdf(a_long_log(), paper="a4"))
    assert len(pages) > 3
    for number, page in enumerate(pages, start=1):
        assert squeezed(cautions.FICTIONAL_NOTICE) in squeezed(page)
        assert squeezed(cautions.CAUTION) in squeezed(page)
        assert f"{number}of{len(pages)}" in squeezed(page)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_long_log_splits_no_leg(paper):
    """What is flown of a leg stands on one page: its end and its changeover with its start."""
    pages = [squeezed(page) for page in pages_of(log_as_pdf(a_long_log(40), paper=paper))]
    leg = log_sheet(a_long_log(1)).legs[0]
    start, changeover = squeezed(f"{leg.start}to{leg.end}"), squeezed(leg.changeover)
    assert sum(page.count(changeover) for page in pages) == 40
    for page in pages:
        assert page.count(start) == page.count(changeover)


def test_hostile_names_are_printed_as_they_are_and_never_obeyed():
    log = a_hostile_log()
    pdf = pypdf.PdfReader(io.BytesIO(log_as_pdf(log, paper="a4")))
    printed = squeezed("".join(page.extract_text() for page in pdf.pages))
    for words in ('#import"x"', "<script>alert(1)</script>", '"quotes"', "$x^2$", "#setpage(width:1mm)", "W" * 150):
        assert words in printed
    assert float(pdf.pages[0].mediabox.width) > 800.0


def test_one_log_always_gives_the_same_bytes(sample):
    assert log_as_pdf(a_log(), paper="a4") == sample


def test_the_file_is_tagged_names_its_title_and_language_and_claims_pdf_ua(sample):
    reader = pypdf.PdfReader(io.BytesIO(sample))
    assert reader.metadata.title == "Navigation log: Over the Skarn"
    assert reader.root_object["/Lang"] == "en"
    assert "/StructTreeRoot" in reader.root_object
    assert b"pdfuaid" in reader.root_object["/Metadata"].get_data()


def test_pictures_are_set_with_a_description_and_keep_the_claim():
    section = route_section_svg(a_log(), RidgeGround())
    reader = pypdf.PdfReader(io.BytesIO(log_as_pdf(a_log(), paper="a4", section_svg=section)))
    assert b"pdfuaid" in reader.root_object["/Metadata"].get_data()
    assert "Section along the route" in reader.pages[-1].extract_text()
    assert "hides KEV" in reader.pages[-1].extract_text()


def test_only_fonts_that_travel_with_the_program_are_used(sample):
    names = set()
    for page in pypdf.PdfReader(io.BytesIO(sample)).pages:
        names |= {str(font.get_object()["/BaseFont"]) for font in page["/Resources"]["/Font"].values()}
    assert names
    assert all(re.search(r"LibertinusSerif|DejaVuSansMono", name) for name in names)


def test_a_log_with_nothing_known_still_prints():
    log = a_log(
        aircraft=None,
        fuel=None,
        departure_utc=None,
        arrival_utc=None,
        total_time_min=None,
        climb_min=None,
        descent_min=None,
        complete=False,
    )
    assert "NOT COMPLETE" in pages_of(log_as_pdf(log, paper="letter"))[0]


def half_up(value: float, step: float = 1.0) -> int:
    """Round half up to a step, by the schoolbook and not by the project's own rounding; noise below a millionth is folded away."""
    return math.floor(round(value / step, 6) + 0.5)


def printed_of(leg: dict) -> list[str]:
    """What must stand on paper for one leg of the log's JSON, rounded here."""
    minutes = half_up(leg["time_min"])
    fuel = half_up(leg["fuel_l"], 0.1)
    wanted = [
        *(f"{half_up(leg[name]) % 360 or 360:03d}" for name in ("track_true_deg", "track_magnetic_deg", "heading_true_deg")),
        *(f"{half_up(leg[name]) % 360 or 360:03d}" for name in ("heading_magnetic_deg", "heading_compass_deg")),
        f"{minutes // 60}:{minutes % 60:02d}",
        f"{fuel // 10}.{fuel % 10}L",
        str(half_up(leg["groundspeed_kt"])),
        str(half_up(leg["true_airspeed_kt"])),
    ]
    for guidance in leg["guidance"]:
        wanted += [f"{half_up(guidance['selected_course_deg']) % 360 or 360:03d}", f"{guidance['beacon']['frequency_khz'] / 1000:.2f}MHz"]
    return wanted


@pytest.mark.parametrize("paper", PAPERS)
def test_every_printed_figure_is_that_of_the_json_rounded(tmp_path, paper):
    """Read back with pdftotext, which knows nothing of how the page was made."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (Debian poppler-utils) is not here")
    log = planned()
    (tmp_path / "log.pdf").write_bytes(log_as_pdf(log, paper=paper))
    told = subprocess.run(["pdftotext", "-layout", str(tmp_path / "log.pdf"), "-"], capture_output=True, text=True, check=True).stdout
    printed = squeezed(told)
    data = json.loads(log_as_json(log))
    wanted = [figure for leg in data["legs"] for figure in printed_of(leg)]
    counted = Counter(wanted)
    assert [figure for figure, times in counted.items() if printed.count(figure) < times] == []
    total = half_up(data["total_distance_nm"], 0.1)
    assert f"{total // 10}.{total % 10}NM" in printed
