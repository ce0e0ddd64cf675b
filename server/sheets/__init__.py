"""The views of a log, shared by the pages and the command line: words, rounding, text, JSON, PDF, chart and section."""

from server.sheets import cautions, figures, words
from server.sheets.area_drawing import rose_zero
from server.sheets.blank_form import COLUMN_WORDS, Column, blank_form
from server.sheets.chart import ChartInput, route_chart_svg
from server.sheets.chart_lines import chart_lines
from server.sheets.coverage_areas import coverage_geojson, fixes_geojson, lowest_geojson
from server.sheets.coverage_chart import coverage_chart_svg, height_in_words
from server.sheets.drawings import chart_of, section_of
from server.sheets.fix_chart import fix_chart_svg, shares_in_words
from server.sheets.ground_preview import ground_in_figures, ground_preview_svg
from server.sheets.indicator_picture import indicator_svg
from server.sheets.leg_sheet import LegSheet
from server.sheets.limit_areas import limits_geojson, sector_geojson, sector_in_words
from server.sheets.log_csv import log_as_csv
from server.sheets.log_geojson import log_as_geojson
from server.sheets.log_gpx import log_as_gpx
from server.sheets.log_json import log_as_dict, log_as_json
from server.sheets.log_pdf import log_as_pdf
from server.sheets.log_sheet import LogSheet, log_sheet
from server.sheets.log_text import log_as_text
from server.sheets.lowest_chart import lowest_chart_svg
from server.sheets.relief_tile import relief_state, relief_tile_webp
from server.sheets.route_text import route_as_text
from server.sheets.section import SectionCurve, route_section_svg
from server.sheets.strip import scale_words
from server.sheets.strip_cut import MOST_STRIP_PAGES
from server.sheets.strip_pdf import strip_of, strip_pages
from server.sheets.symbols import beacon_symbol, place_symbols
from server.sheets.ways_out import place_in_words
from server.sheets.working import Derivation

__all__ = [
    "COLUMN_WORDS",
    "MOST_STRIP_PAGES",
    "ChartInput",
    "Column",
    "Derivation",
    "LegSheet",
    "LogSheet",
    "SectionCurve",
    "beacon_symbol",
    "blank_form",
    "cautions",
    "chart_lines",
    "chart_of",
    "coverage_chart_svg",
    "coverage_geojson",
    "figures",
    "fix_chart_svg",
    "fixes_geojson",
    "ground_in_figures",
    "ground_preview_svg",
    "height_in_words",
    "indicator_svg",
    "limits_geojson",
    "log_as_csv",
    "log_as_dict",
    "log_as_geojson",
    "log_as_gpx",
    "log_as_json",
    "log_as_pdf",
    "log_as_text",
    "log_sheet",
    "lowest_chart_svg",
    "lowest_geojson",
    "place_in_words",
    "place_symbols",
    "relief_state",
    "relief_tile_webp",
    "rose_zero",
    "route_as_text",
    "route_chart_svg",
    "route_section_svg",
    "scale_words",
    "section_of",
    "sector_geojson",
    "sector_in_words",
    "shares_in_words",
    "strip_of",
    "strip_pages",
    "words",
]
