"""The report's records: what `discscan scan --json` writes, and what every reader of a result reads.

Numbers are rounded here to digits that mean something, so that the same photograph gives the same document.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Annotated, Any, Final, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    WithJsonSchema,
    model_serializer,
)

from discscan.records import Action, FormatGuess, FormatName, Kind, Recording, Side

REPORT_VERSION: Final = 1
_NUMBERS = re.compile(r"\[\n\s*[-+.\de]+(,\n\s*[-+.\de]+)*\n\s*\]")  # a text holds no bare newline, so none matches


def _rounded(digits: int) -> AfterValidator:
    return AfterValidator(lambda value: round(value, digits) + 0.0)  # + 0.0 turns -0.0 into 0.0


def _significant(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}") + 0.0


Fraction = Annotated[
    float,
    _rounded(3),
    Field(ge=0, le=1),  # after the rounding, so that 1.0000000002 passes
    WithJsonSchema({"type": "number", "minimum": 0, "maximum": 1}),
]
Pixels = Annotated[float, _rounded(2)]
Degrees = Annotated[float, _rounded(2)]
Millimetres = Annotated[float, _rounded(2)]
Micrometres = Annotated[float, _rounded(0)]
SquareMillimetres = Annotated[float, _rounded(2)]
Significant = Annotated[float, AfterValidator(partial(_significant, digits=4))]
Precise = Annotated[float, AfterValidator(partial(_significant, digits=12))]  # of a homography: 1e-12 moves no pixel
Row = tuple[Precise, Precise, Precise]
Value = Significant | str | None


class Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class EllipseReport(Record):
    """Full axes, not half; the angle of the major axis from +x towards +y."""

    cx: Pixels
    cy: Pixels
    axis_major: Pixels
    axis_minor: Pixels
    angle_deg: Degrees


class DefectReport(Record):
    """One defect; its number in the pictures is its place in `defects`, from 1. A sigma is a standard uncertainty."""

    kind: Kind
    outline_mm: list[tuple[Millimetres, Millimetres]] = Field(
        description="Centre line of a line-like defect, border of an area (first point not repeated)."
    )
    length_mm: Millimetres | None
    length_sigma_mm: Millimetres | None
    width_um: Micrometres | None
    width_sigma_um: Micrometres | None
    width_is_bound: bool = Field(
        description="The photo shows only how wide the line is at most: width_um is an upper bound."
    )
    area_mm2: SquareMillimetres | None
    area_sigma_mm2: SquareMillimetres | None
    radius_min_mm: Millimetres
    radius_max_mm: Millimetres
    arc_deg: Degrees
    confidence: Fraction
    see_through: bool = Field(default=False, description="A lamp was seen through it: the mirror is gone.")


class ChanceReport(Record):
    """`low` and `high` bound a 90 % interval."""

    probability: Fraction
    low: Fraction
    high: Fraction


BeforeLearning = Annotated[
    ChanceReport | None, Field(description="As forecast, where the user's own ledger has moved it (`learned`).")
]


class RadiusBandReport(Record):
    """Share of the tracks between two radii that does not read, expected."""

    radius_min_mm: Millimetres
    radius_max_mm: Millimetres
    unreadable_fraction: Fraction


class PlaybackReport(Record):
    """The forecast that every sector reads; `low` and `high` bound a 90 % interval of its chance over drives."""

    format: FormatName = Field(description="For which the forecast was made: the worst of `formats_possible`.")
    probability: Fraction
    low: Fraction
    high: Fraction
    worst_burst_mm: Millimetres
    correctable_burst_mm: Millimetres
    unreadable_fraction: Fraction
    worst_radius_mm: Millimetres | None
    unreadable_by_radius: list[RadiusBandReport] = Field(
        default=[], description="The same share by bands of radius, from the lead-in to the end of the data area."
    )
    before_learning: BeforeLearning = None


class ResurfacingReport(Record):
    """The same forecast after a shop's polish."""

    possible: bool
    probability: Fraction
    low: Fraction
    high: Fraction
    why: str
    polished: int = Field(default=0, description="How many polishes it had before, as the person says.")
    may_go_um: Micrometres | None = Field(
        default=None, description="Of the clear layer, that those polishes have left to be taken off, expected."
    )
    before_learning: BeforeLearning = None


class ReasonReport(Record):
    """A rule that spoke, the action that it asks for, what it saw and its limit."""

    rule: str
    action: Action
    text: str
    value: Value
    limit: Value


class VerdictReport(Record):
    """The reason that decided comes first."""

    action: Action
    reasons: list[ReasonReport]
    cautions: list[str]


class DoubtReport(Record):
    """What the photograph could not tell, and what to do about it."""

    code: str
    wrong: str
    remedy: str


class SourceReport(Record):
    """One photograph of a merged disc. `turn_deg`: how far the disc lies turned in it, against the first one."""

    file: str
    disc: int = Field(description="Which of the photo's discs it is, from 1.")
    side: Side
    joined: bool = Field(description="Whether what it shows is part of the merged disc; else it is judged apart.")
    turn_deg: Degrees | None
    likelihood_ratio: Significant | None = Field(description="Of its being this disc rather than another one.")


class LampReport(Record):
    """The photograph against a lamp of a merged disc. `used`: it showed the disc before a lamp."""

    file: str
    sha256: str
    used: bool
    pinholes: int


class UnseenReport(Record):
    """A part of the data area that was not seen. Angles from +x towards +y; null where it goes all the way round."""

    cause: Literal["outside_photo", "covered", "glare", "dark", "blurred"]
    share: Fraction
    from_deg: Degrees | None
    to_deg: Degrees | None
    radius_min_mm: Millimetres
    radius_max_mm: Millimetres


class NextPhotoReport(Record):
    """What another photo should show, and what it could change."""

    unseen: list[UnseenReport]
    light_from_deg: Degrees | None = Field(description="Where a lamp should stand; null where no unseen part asks.")
    could_become: list[Action] = Field(description="Other verdicts it could lead to, the likelier first.")
    chance_of_change: Fraction
    text: str


class DiscReport(Record):
    diameter_mm: Literal[80, 120]
    outer_ellipse_px: EllipseReport
    hole_ellipse_px: EllipseReport
    homography_px_to_mm: tuple[Row, Row, Row] = Field(
        description="Photo pixel to the disc's plane in mm, origin at the disc's centre."
    )
    mm_per_px: Significant
    tilt_deg: Degrees
    side: Side
    side_confidence: Fraction
    recording: Recording
    format: FormatGuess
    format_source: Literal["given", "guessed"]
    formats_possible: list[FormatName]
    sharpness: Fraction
    glare_fraction: Fraction
    measured_fraction: Fraction
    scratch_density_mm_per_cm2: Millimetres
    defects: list[DefectReport] = Field(description="The most important first.")
    playback: PlaybackReport | None
    resurfacing: ResurfacingReport | None
    verdict: VerdictReport
    doubts: list[DoubtReport]
    worth: dict[str, Any] | None
    next_photo: NextPhotoReport | None = None
    merged_from: list[SourceReport] | None = Field(
        default=None, description="Of a merged disc, its photos; pixels and homography are those of the first."
    )
    lamp: LampReport | None = None


class TurnedDownReport(Record):
    """A round thing that is no disc, or not enough of one."""

    outer_ellipse_px: EllipseReport
    why: str


class ErrorReport(Record):
    code: str
    message: str


class PhotoReport(Record):
    """One photograph. `sharpness` and `glare_fraction` are those of its worst disc, null without a disc."""

    file: str
    sha256: str | None
    width_px: int | None
    height_px: int | None
    sharpness: Fraction | None
    glare_fraction: Fraction | None
    error: ErrorReport | None
    discs: list[DiscReport]
    turned_down: list[TurnedDownReport]


class PolishesReport(Record):
    """How often a polish helped, and what is to be expected of the next: from the user's own ledger and a prior."""

    kind: Kind | None
    format: FormatGuess
    cases: int
    helped: int
    expected: ChanceReport


class LearnedReport(Record):
    """What was learned from the user's own ledger and was in use: from how many discs, and what it does."""

    file: str
    sha256: str
    day: str
    cases: int
    played: int
    recalibration: Literal["sigmoid", "isotonic"] | None = Field(
        description="What moved the chances; null where discs are too few, or the forecast is as good without."
    )
    polishes: list[PolishesReport]


class Report(Record):
    """The whole document. `merged` is present only when several photos of one disc were taken as one."""

    report_version: Literal[1]
    discscan_version: str
    calibration_sha256: str
    weights_sha256: dict[str, str]
    learned: LearnedReport | None = None
    photos: list[PhotoReport]
    merged: list[DiscReport] | None = None

    @model_serializer(mode="wrap")
    def _without_merged(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        fields: dict[str, Any] = handler(self)
        if self.merged is None:
            del fields["merged"]
        return fields

    def to_json(self) -> str:
        """The document as `--json` writes it: UTF-8 text that ends in a newline, the same for the same result."""
        return document(self)


def document(record: Record) -> str:
    """A record as a JSON document; lists of numbers keep to one line."""
    return _NUMBERS.sub(lambda row: " ".join(row.group().split()), record.model_dump_json(indent=1)) + "\n"


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that every report obeys."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **Report.model_json_schema()}
