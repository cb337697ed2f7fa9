"""The result as people and programs read it: records, pictures, label images, words, the printable page."""

from discscan.report.build import disc_report, error_report, merged_report, photo_report, report
from discscan.report.defect_words import disc_table_rows
from discscan.report.labels import label_image
from discscan.report.page import PageEntry, merged_entry, page_entry, render_page
from discscan.report.pictures import draw_marks, draw_top_view
from discscan.report.schema import DiscReport, PhotoReport, Report, json_schema
from discscan.report.words import summary, verdict_line

__all__ = [
    "DiscReport",
    "PageEntry",
    "PhotoReport",
    "Report",
    "disc_report",
    "disc_table_rows",
    "draw_marks",
    "draw_top_view",
    "error_report",
    "json_schema",
    "label_image",
    "merged_entry",
    "merged_report",
    "page_entry",
    "photo_report",
    "render_page",
    "report",
    "summary",
    "verdict_line",
]
