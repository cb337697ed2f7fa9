"""The record and the words of the answer to "the same disc?"."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from pydantic import Field

from discscan.matches import Comparison, SameAnswer
from discscan.report.build import defect_report, discscan_version
from discscan.report.defect_words import TABLE_HEAD, defect_row
from discscan.report.schema import DefectReport, Degrees, Record, Significant, document

ANSWER: Mapping[SameAnswer, str] = {
    "same": "THE SAME DISC",
    "another": "ANOTHER DISC",
    "cannot tell": "CANNOT TELL",
}

WHY: Mapping[str, str] = {
    "marks-agree": "Their own marks agree at one turn as they do not on different discs.",
    "marks-differ": (
        "Both show plain marks, and at no turn do they agree. "
        "A thorough polish can do that too: it takes the marks that a disc is known by."
    ),
    "other-size": "One is 120 mm across and the other 80 mm.",
    "one-photo": "These are the same photo.",
    "label-side": "A label side is up, and copies of one title have the same label. Photograph the data sides.",
    "little-seen": "Too little of a data side was seen. Photograph it again in even light, whole in the picture.",
    "lies-still": (
        "They agree as if the disc had not been turned at all, and what a room reflects agrees like that with any "
        "disc. Turn the disc by a quarter and photograph it again."
    ),
    "too-few-marks": (
        "One of them shows too few marks to be known by. Photograph the disc again with a lamp low at the side: "
        "a clean disc looks like any other clean disc."
    ),
    "not-sure": "Some marks agree, but so they may on different discs. Photograph it again with the lamp elsewhere.",
}

GONE = (
    "A mark that is missing may be polished away, or only unlit: "
    "other light hides more than half of the scratches that a photo shows."
)


class PairReport(Record):
    """A mark as each of the two photos shows it, both in the first one's plane."""

    first: DefectReport
    second: DefectReport


class SameReport(Record):
    """The answer to whether two photos show the same disc."""

    report_version: Literal[1]
    discscan_version: str
    files: tuple[str, str]
    answer: SameAnswer
    likelihood_ratio: Significant | None = Field(
        description="How much likelier what was found is on one disc than on two, whatever one believed before."
    )
    why: str
    text: str
    turn_deg: Degrees | None = Field(description="Of the disc in the second photo, from +x towards +y: clockwise.")
    both: list[PairReport]
    only_first: list[DefectReport]
    only_second: list[DefectReport]

    def to_json(self) -> str:
        """The document as `--json` writes it."""
        return document(self)


def same_report(found: Comparison, files: tuple[str, str]) -> SameReport:
    """The record of a comparison."""
    return SameReport(
        report_version=1,
        discscan_version=discscan_version(),
        files=files,
        answer=found.answer,
        likelihood_ratio=found.likelihood_ratio,
        why=found.why,
        text=f"{ANSWER[found.answer]}: {WHY[found.why]}",
        turn_deg=found.turn_deg,
        both=[PairReport(first=defect_report(one), second=defect_report(other)) for one, other in found.both],
        only_first=[defect_report(one) for one in found.only_first],
        only_second=[defect_report(one) for one in found.only_second],
    )


def same_lines(told: SameReport) -> Iterator[str]:
    """The answer in words, a line each."""
    yield told.text
    if told.likelihood_ratio is not None:
        yield _ratio(told.likelihood_ratio)
    if told.turn_deg is None:
        return
    yield f"In the second photo the disc lies turned by {told.turn_deg:.0f} degrees clockwise."
    yield f"Marks in both: {len(told.both)}. Only in the first: {len(told.only_first)}. " + (
        f"Only in the second: {len(told.only_second)}."
    )
    if told.only_first:
        yield GONE


SAME_HEAD = ("Mark", *TABLE_HEAD[1:])


def same_rows(told: SameReport) -> list[tuple[str, str, str, str, str]]:
    """The marks, those in both numbered as in the picture, places as the first photo shows them."""
    rows = [(str(number), *defect_row(pair.first)) for number, pair in enumerate(told.both, start=1)]
    rows += [("gone", *defect_row(one)) for one in told.only_first]
    return rows + [("new", *defect_row(one)) for one in told.only_second]


def _ratio(ratio: float) -> str:
    if ratio >= 1:
        return f"What was found is about {_rounded(ratio)} times likelier on one disc than on two."
    return f"What was found is about {_rounded(1 / ratio)} times likelier on two discs than on one."


def _rounded(value: float) -> str:
    return f"{float(f'{value:.1g}'):.0f}" if value >= 10 else f"{value:.1f}"
