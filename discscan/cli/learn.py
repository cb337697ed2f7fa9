"""`discscan learn`: was the forecast right, and how often does a polish help."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path

from discscan.cli.layout import columns, put_lines
from discscan.cli.streams import put, put_file, say
from discscan.learn import forget_lesson, learn, lesson_in_use, place_of, read_lesson, write_lesson
from discscan.lessons import Learned, Lesson
from discscan.places import book_place, home_of
from discscan.report import learn_words as words
from discscan.report.diagram import reliability_diagram


def learn_anew(book: str | None, *, diagram: Path | None) -> None:
    """Learn from the book, keep it beside the book, and tell it."""
    from discscan.ledger import Book, items_of  # here, since a scan asks what is in use and opens no book

    opened = Book(book_place(book))
    try:
        lesson = learn(items_of(opened.events()), today=date.today())
    finally:
        opened.close()
    place = _place(book)
    write_lesson(lesson, place)
    _tell(lesson, diagram)
    say(f"Learned: {place.resolve()}")


def show(book: str | None, *, diagram: Path | None) -> None:
    lesson = read_lesson(_place(book))
    if lesson is None:
        put(f"{words.NOTHING}\n")
    else:
        _tell(lesson, diagram)


def switch(book: str | None, *, on: bool) -> None:
    """Use what was learned, or leave it aside; it stays kept."""
    lesson = read_lesson(_place(book))
    if lesson is None:
        put(f"{words.NOTHING}\n")
        return
    switched = replace(lesson, in_use=on)
    write_lesson(switched, _place(book))
    put(f"{words.use_line(switched)}\n")


def forget(book: str | None) -> None:
    put(f"{words.FORGOTTEN if forget_lesson(_place(book)) else words.NOTHING}\n")


def in_use() -> Learned | None:
    """What was learned from the person's own book, where it is in use."""
    return lesson_in_use(_place(os.environ.get("DISCSCAN_BOOK")))


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


def _place(book: str | None) -> Path:
    return place_of(home_of(book_place(book)))
