"""`discscan learn`: was the forecast right, and how often does a polish help."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

from discscan.cli.layout import columns, put_lines
from discscan.cli.streams import put, put_file, say
from discscan.deals import Forecast
from discscan.learn import as_learned, forget_lesson, learn, place_of, read_lesson, write_lesson
from discscan.ledger import Book, default_place, items_of
from discscan.lessons import Lesson
from discscan.report import learn_words as words
from discscan.report.diagram import reliability_diagram


def learn_anew(book: Path | None, *, diagram: Path | None) -> None:
    """Learn from the book, keep it beside the book, and tell it."""
    opened = Book(book or default_place())
    try:
        lesson = learn(items_of(opened.events()), today=date.today())
    finally:
        opened.close()
    place = _place(book)
    write_lesson(lesson, place)
    _tell(lesson, diagram)
    say(f"Learned: {place.resolve()}")


def show(book: Path | None, *, diagram: Path | None) -> None:
    lesson = read_lesson(_place(book))
    if lesson is None:
        put(f"{words.NOTHING}\n")
    else:
        _tell(lesson, diagram)


def switch(book: Path | None, *, on: bool) -> None:
    """Use what was learned, or leave it aside; it stays kept."""
    lesson = read_lesson(_place(book))
    if lesson is None:
        put(f"{words.NOTHING}\n")
        return
    switched = replace(lesson, in_use=on)
    write_lesson(switched, _place(book))
    put(f"{words.use_line(switched)}\n")


def forget(book: Path | None) -> None:
    put(f"{words.FORGOTTEN if forget_lesson(_place(book)) else words.NOTHING}\n")


def as_known(forecasts: Mapping[str, Forecast | None]) -> dict[str, Forecast | None]:
    """The forecasts of a report, recalibrated where something was learned and is in use."""
    told = os.environ.get("DISCSCAN_BOOK")
    lesson = read_lesson(_place(Path(told) if told else None))
    if lesson is None or not lesson.in_use or lesson.curve is None:
        return dict(forecasts)
    say(words.used_line(lesson))
    return {name: one and as_learned(one, lesson.curve) for name, one in forecasts.items()}


def _tell(lesson: Lesson, diagram: Path | None) -> None:
    put_lines(
        words.lesson_lines(lesson),
        columns(words.BANDS_HEAD, words.band_rows(lesson.bands)),
        [words.polish_line(lesson.polish)],
        columns(words.POLISH_HEAD, words.polish_rows(lesson.polish)),
        [words.use_line(lesson)],
    )
    if diagram is not None:
        put_file(diagram, reliability_diagram(lesson))
        say(f"Diagram: {diagram.resolve()}")


def _place(book: Path | None) -> Path:
    return place_of(book or default_place())
