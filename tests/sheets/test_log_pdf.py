"""The log on paper, read back from the PDF."""

from __future__ import annotations

import io
import re
from dataclasses import fields, is_dataclass

import pypdf
import pytest

from server.sheets import cautions
from server.sheets.log_pdf import log_as_pdf
from server.sheets.log_sheet import LegSheet, log_sheet
from server.sheets.log_text import log_as_text
from server.sheets.section import route_section_svg
from tests.sheets.sheet_builders import RidgeGround, a_hostile_log, a_log, a_long_log


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def squeezed(text: str) -> str:
    """Text without blanks and without the invisible marks where a long word may break."""
    return re.sub(r"[\s\u200b\u00ad]", "", text)


@pytest.fixture(scope="module")
def sample() -> bytes:
    return log_as_pdf(a_log(), paper="a4")


def test_the_paper_holds_every_figure_and_sentence_of_the_log(sample):
    printed = squeezed("".join(pages_of(sample)))
    sheet = log_sheet(a_log())
    for leg in sheet.legs:
        for field in fields(LegSheet):
            values = getattr(leg, field.name)
            for value in (values,) if isinstance(values, str) else values:
                words = [value]
                if is_dataclass(value):
                    words = [getattr(value, part.name) for part in fields(value) if part.name != "name"]
                for word in words:
                    assert squeezed(word) in printed, (field.name, word)
    for words in (sheet.total_distance, sheet.total_time, sheet.fuel_verdict, *sheet.off_flag_meanings, sheet.not_checked, *sheet.notes):
        assert squeezed(words) in printed
    for label, amount in (*sheet.fuel_rows, *sheet.sources):
        assert squeezed(label) in printed
        assert squeezed(amount) in printed


def test_paper_and_text_say_the_same_sentences(sample):
    printed, told = squeezed("".join(pages_of(sample))), squeezed(log_as_text(a_log()))
    for leg in log_sheet(a_log()).legs:
        for sentence in (*leg.findings, *leg.notes, leg.changeover):
            assert squeezed(sentence) in printed
            assert squeezed(sentence) in told


# ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: Letter is 8.5 x 11 in. One point is 1/72 in.
@pytest.mark.parametrize(("paper", "width_mm", "height_mm"), [("a4", 297.0, 210.0), ("letter", 279.4, 215.9)])
def test_pages_have_the_size_of_the_paper_lying_on_its_long_side(paper, width_mm, height_mm):
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


def test_a_long_log_repeats_its_column_heads_and_splits_no_leg():
    pages = [squeezed(page) for page in pages_of(log_as_pdf(a_long_log(40), paper="letter"))]
    flying = [page for page in pages if "Tuneandhear" in page]
    assert len(flying) > 2
    first_sentence, last_sentence = (squeezed(log_sheet(a_long_log(1)).legs[0].findings[index]) for index in (0, -1))
    for page in flying:
        assert page.count(first_sentence) == page.count(last_sentence)
    assert sum(page.count(first_sentence) for page in flying) == 40


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
