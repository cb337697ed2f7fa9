"""What was learned is told with its number of cases, and its picture is well-formed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pytest

from discscan.lessons import Band, Curve, Lesson, PolishLesson, Scores, Share
from discscan.report import learn_words as words
from discscan.report.diagram import reliability_diagram

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def lesson() -> Lesson:
    none = Share(0, 0, 2, 2, 0.5, 0.1, 0.9)
    bands = (Band(0, 0.5, 0.25, Share(4, 2, 1, 3, 0.375, 0.15, 0.64)), Band(0.5, 0.75, None, none),
             Band(0.75, 1, 1.0, Share(6, 4, 3.9, 0.1, 0.79, 0.55, 0.96)))  # fmt: skip
    return Lesson(
        day=date(2026, 2, 1), in_use=True, cases=10, played=6, bands=bands,
        scores=Scores(0.269, 0.035667, 0.006667, 0.24, 0.0, 0.18), enough=False, least_cases=30, least_of_each=5,
        brier_after=None, curve=None, polish=(PolishLesson("ring_arc", "dvd", Share(3, 1, 1, 9, 0.15, 0.03, 0.34)),),
    )  # fmt: skip


def test_few_cases_are_told_as_too_few(lesson: Lesson) -> None:
    text = "\n".join(words.lesson_lines(lesson))
    assert text.startswith("10 discs tested after a scan; 6 played.")
    assert "Too few to tell" in text and "30 discs, at least 5 that played and 5 that did not" in text
    assert "Brier score 0.269 over 10 discs" in text and "reliability 0.036" in text
    assert "too few to tell" in "\n".join(words.lesson_lines(replace(lesson, cases=0, scores=None)))
    assert words.use_line(lesson) == "No forecast is changed by it."


def test_a_recalibration_is_told_with_how_it_did_on_other_discs(lesson: Lesson) -> None:
    many = replace(lesson, cases=100, enough=True, brier_after=0.2, curve=Curve("sigmoid", ((-0.5, 1.0),)))
    better = "\n".join(words.lesson_lines(many))
    assert "(sigmoid) is better: Brier score 0.200 on discs that it was not fitted to." in better
    assert "Too few" not in better
    worse = "\n".join(words.lesson_lines(replace(many, curve=None, brier_after=0.3)))
    assert "would be no better" in worse
    assert words.use_line(many).startswith("In use") and "Switched off" in words.use_line(replace(many, in_use=False))
    assert "100 discs of your own ledger" in words.used_line(many)


def test_every_row_tells_its_number(lesson: Lesson) -> None:
    assert words.band_rows(lesson.bands) == [
        ("0% to 50%", "4", "2", "38%", "15% to 64%"),
        ("75% to 100%", "6", "4", "79%", "55% to 96%"),
    ]
    assert words.polish_rows(lesson.polish) == [("ring scratch", "DVD", "3", "1", "15%", "3% to 34%")]
    assert words.polish_line(lesson.polish).startswith("3 polishes with a known outcome.")
    assert "too few to tell" in words.polish_line(())


def test_the_diagram_has_a_point_with_its_number_for_each_band_with_cases(lesson: Lesson) -> None:
    drawing = ElementTree.fromstring(reliability_diagram(lesson))
    points = drawing.findall(f"{SVG}circle")
    side = 400
    assert [(float(p.get("cx", 0)) - 60, 460 - float(p.get("cy", 0))) for p in points] == [
        (side * 0.25, side * 0.5),
        (side * 1.0, pytest.approx(side * 4 / 6, abs=0.1)),
    ]
    texts = [text.text for text in drawing.findall(f"{SVG}text")]
    assert [text for text in texts if text and text.startswith("n =")] == ["n = 4", "n = 6"]
    described = drawing.find(f"{SVG}desc")
    assert described is not None and described.text and "Too few to tell" in described.text
