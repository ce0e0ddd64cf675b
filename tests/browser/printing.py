"""Prints a page as the browser does and reads PDF files back."""

from __future__ import annotations

import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable

import pypdf

PAPERS = {"A4": {595, 842}, "Letter": {612, 792}}
"""Names and sizes [points of 1/72 inch]: ISO 216 A4 is 210 x 297 mm, ANSI/ASME Y14.1 A is 8.5 x 11 inches."""

_NUMBER = re.compile(r"\d+(?:[.,:]\d+)*")

_CELLS = """article => [...article.querySelectorAll('h1, h2, p, li, th, td, dt, dd, caption, figcaption')]
    .filter(element => !element.closest('svg'))
    .flatMap(element => element.innerText.split('\\n'))"""

_TEXTS = """article => {
    const texts = [], walker = document.createTreeWalker(article, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) if (!walker.currentNode.parentElement.closest('svg')) texts.push(walker.currentNode.data);
    return texts;
}"""


def print_page(page) -> pypdf.PdfReader:
    """Print as the browser's own print command does, on the sheet the page asks for."""
    return pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))


def fetch_pdf(page, address: str) -> pypdf.PdfReader:
    """Fetch a PDF made by the server."""
    answer = page.request.get(address)
    assert answer.ok and answer.headers["content-type"] == "application/pdf", answer.status
    return pypdf.PdfReader(io.BytesIO(answer.body()))


def packed(text: str) -> str:
    """Text without white space, and ligatures taken apart: how a PDF breaks lines and joins letters is its own affair."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))


def words_of(pdf: pypdf.PdfReader) -> str:
    """All text of a PDF, packed."""
    return packed("".join(page.extract_text() for page in pdf.pages))


def words_of_log(page) -> list[str]:
    """Every heading, cell, sentence and figure of the log on the page, drawings apart."""
    return [cell for cell in dict.fromkeys(page.get_by_role("article").evaluate(_CELLS)) if cell.strip()]


def texts_of_log(page) -> list[str]:
    """Every piece of text of the log on the page as often as it stands there, drawings apart."""
    return page.get_by_role("article").evaluate(_TEXTS)


def not_in(pdf: pypdf.PdfReader, wanted: Iterable[str]) -> list[str]:
    """Those of the wanted words that the PDF does not show."""
    shown = words_of(pdf)
    return [words for words in wanted if packed(words) not in shown]


def numbers_short(pdf: pypdf.PdfReader, wanted: Iterable[str]) -> Counter[str]:
    """The numbers that stand among the wanted words more often than in the PDF. Where a wrong one was printed, the right one is short."""
    printed = " ".join(page.extract_text() for page in pdf.pages)
    return Counter(_NUMBER.findall(" ".join(wanted))) - Counter(_NUMBER.findall(printed))


def size_of(pdf: pypdf.PdfReader) -> set[int]:
    """The two sides of the first sheet, rounded. [pt]"""
    return {round(float(side)) for side in pdf.pages[0].mediabox[2:]}
