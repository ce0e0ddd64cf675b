"""Forms to fill in: what is left empty stands nowhere on the sheet, what is not stays as it is."""

from __future__ import annotations

import io
import re
from dataclasses import fields, is_dataclass

import pypdf
import pytest

from server.sheets.blank_form import Column, blank_form
from server.sheets.log_pdf import log_as_pdf
from server.sheets.log_sheet import LogSheet, log_sheet
from tests.sheets.test_log_pdf import planned


def texts_in(value) -> list[str]:
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [text for field in fields(value) for text in texts_in(getattr(value, field.name))]
    if isinstance(value, tuple):
        return [text for item in value for text in texts_in(item)]
    return []


@pytest.fixture(scope="module")
def sheet() -> LogSheet:
    return log_sheet(planned())


GIVES_AWAY = {
    Column.HEADINGS: lambda leg: [f"{leg.heading_magnetic}M", f"Steer {leg.heading_magnetic}", f"heading {leg.heading_magnetic}"],
    Column.TIMES: lambda leg: [leg.arrival],
    Column.COURSES: lambda leg: [f"set {row.set_course}" for row in leg.tune] + [f"R-{row.set_course}" for row in leg.tune],
    Column.TUNE: lambda leg: [row.frequency for row in leg.tune],
    Column.FUEL: lambda leg: [leg.fuel_remaining],
}


@pytest.mark.parametrize("column", GIVES_AWAY)
def test_what_is_left_empty_is_told_nowhere_else(sheet, column):
    told = " | ".join(texts_in(blank_form(sheet, [column, Column.CHECKS])))
    for leg in sheet.legs:
        for words in GIVES_AWAY[column](leg):
            assert words not in told


@pytest.mark.parametrize("column", Column)
def test_each_column_empties_something_and_leaves_the_rest(sheet, column):
    form = blank_form(sheet, [column])
    assert [leg.start for leg in form.legs] == [leg.start for leg in sheet.legs]
    assert form.caution == sheet.caution and form.fictional_notice == sheet.fictional_notice
    emptied = [
        (field.name, leg.number)
        for leg, whole in zip(form.legs, sheet.legs, strict=True)
        for field in fields(whole)
        if isinstance(getattr(whole, field.name), str) and getattr(whole, field.name) and not getattr(leg, field.name)
    ]
    rows = [row for leg in form.legs for row in (*leg.tune, *leg.checks)]
    assert emptied or any(text == "" for row in rows for text in texts_in(row))


def test_without_a_choice_the_sheet_is_itself(sheet):
    assert blank_form(sheet, []) is sheet


def test_a_form_prints_and_keeps_what_is_given():
    log = planned()
    whole = log_sheet(log)
    pdf = log_as_pdf(log, paper="a5", sheet=blank_form(whole, [Column.HEADINGS, Column.TIMES]))
    printed = re.sub(r"\s|\u200b", "", "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages))
    assert "Tofillin:headings,times" in printed
    for leg in whole.legs:
        assert all(re.sub(r"\s", "", row.frequency) in printed for row in leg.tune)
        assert leg.arrival not in printed
