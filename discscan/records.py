"""The frozen records that travel from room to room, in the order in which a disc meets them.

Conventions, once for the whole house:

* a pixel's centre lies at whole coordinates (x to the right, y down), as in OpenCV;
* the disc's plane is in millimetres, origin at the disc's centre, x along the photograph's x at that point, y down
  with the photograph, so a data side seen in a photograph is never mirrored;
* a flat grid has its disc's centre at column = row = side / 2: ``column = px_per_mm * x_mm + side / 2``;
* angles about the centre are in degrees from +x towards +y.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from math import asin, degrees, hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from discscan.doubts import Doubt

FloatArray = NDArray[np.float64]
ByteImage = NDArray[np.uint8]

Side = Literal["data", "label", "unknown"]
Recording = Literal["pressed", "recordable", "unknown"]
FormatName = Literal["cd", "dvd", "bd"]
FormatGuess = Literal["cd", "dvd", "bd", "unknown"]
Kind = Literal["scratch", "ring_arc", "crack", "delamination", "label_damage", "smudge", "dust"]
Action = Literal["play", "resurface", "pass", "retake"]

LINE_KINDS: tuple[Kind, ...] = ("scratch", "ring_arc", "crack")
"""Kinds whose outline is a centre line; the outline of every other kind is a closed border."""


@dataclass(frozen=True)
class Given:
    """What the person says of the disc.

    Attributes:
        format: None where they have not named it.
        polished: how many polishes it has had.
    """

    format: FormatName | None = None
    polished: int = 0


NOTHING_SAID = Given()


@dataclass(frozen=True)
class Reading:
    """A measured value with its standard uncertainty, both in the unit that the field's name carries."""

    value: float
    sigma: float


@dataclass(frozen=True)
class Photo:
    """A decoded photograph, upright.

    Attributes:
        name: as the user gave it.
        sha256: of the file's bytes, hex.
        bgr: uint8 (height_px, width_px, 3), after the EXIF orientation.
    """

    name: str
    sha256: str
    bgr: ByteImage

    @property
    def width_px(self) -> int:
        return int(self.bgr.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.bgr.shape[0])


@dataclass(frozen=True)
class Ellipse:
    """An ellipse in photo pixels: full axes, angle of the major axis from +x towards +y in [0, 180)."""

    cx: float
    cy: float
    axis_major: float
    axis_minor: float
    angle_deg: float


@dataclass(frozen=True)
class FaceReading:
    """What the face net reads in a posed disc: calibrated probabilities, all 0..1.

    Attributes:
        disc: that this is a disc, posed right.
        large: that it is 120 mm across, not 80 mm.
        data: that the data side is up.
        recordable: given a data side.
        formats: cd, dvd, bd, given a data side; they add up to 1.
    """

    disc: float
    large: float
    data: float
    recordable: float
    formats: tuple[float, float, float]


@dataclass(frozen=True)
class LocatedDisc:
    """A disc found in a photograph: the one homography that all its circles share.

    Attributes:
        diameter_mm: 120 or 80.
        homography_px_to_mm: float64 (3, 3), photo pixel to the disc's plane, last element 1.
        rim: image of the circle of diameter `diameter_mm`.
        hole: image of the 15 mm circle.
        mm_per_px: at the disc's centre, geometric mean over directions.
        towards_camera: part along the disc (x, y) of the unit vector from its centre to the camera.
        rim_seen_fraction: 0..1 of the rim's turn on which an edge supports it.
        pose_sigma_mm: standard uncertainty of a rim point in the disc's plane.
        reading: of its face, None where no net has looked (drawn discs in tests).
    """

    diameter_mm: int
    homography_px_to_mm: FloatArray
    rim: Ellipse
    hole: Ellipse
    mm_per_px: float
    towards_camera: tuple[float, float]
    rim_seen_fraction: float
    pose_sigma_mm: float
    doubts: tuple[Doubt, ...] = ()
    reading: FaceReading | None = None

    @property
    def tilt_deg(self) -> float:
        """Between the disc's normal and the line of sight at its centre."""
        return degrees(asin(min(hypot(*self.towards_camera), 1.0)))


@dataclass(frozen=True)
class NotADisc:
    """A round thing that was looked at and turned down, kept with its reason."""

    rim: Ellipse
    why: str


class Sight(IntEnum):
    """How well one cell of the flat grid was seen. Everything but SEEN is left unmeasured."""

    SEEN = 0
    OFF_DISC = 1
    OUTSIDE_PHOTO = 2
    COVERED = 3
    GLARE = 4
    DARK = 5
    BLURRED = 6


@dataclass(frozen=True)
class FlatDisc:
    """The disc from straight above, in millimetres.

    Attributes:
        diameter_mm: 120 or 80.
        px_per_mm: of the grid.
        bgr: uint8 (side, side, 3).
        sight: uint8 (side, side) of `Sight`, over the whole grid; cells off the disc are OFF_DISC.
        photo_px_per_mm: what the photograph itself resolved, at the disc's centre.
        sharpness: 0..1; 1 is as sharp as the photo's pixels allow.
        glare_fraction: 0..1 of the data area.
        measured_fraction: 0..1 of the data area with `Sight.SEEN`.
        towards_camera: part along the disc (x, y) of the unit vector from its centre to the camera.
    """

    diameter_mm: int
    px_per_mm: float
    bgr: ByteImage
    sight: ByteImage
    photo_px_per_mm: float
    sharpness: float
    glare_fraction: float
    measured_fraction: float
    doubts: tuple[Doubt, ...] = ()
    towards_camera: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Face:
    """What is up, and what kind of disc it is.

    Attributes:
        formats: every format that the photograph (or the person) leaves possible, never empty.
        format: the one to name, or "unknown" while several are possible.
    """

    side: Side
    side_confidence: float
    recording: Recording
    format: FormatGuess
    format_source: Literal["given", "guessed"]
    formats: tuple[FormatName, ...]
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True)
class Defect:
    """One piece of damage (or dirt) in the disc's plane.

    Attributes:
        outline_mm: float64 (n, 2); a centre line for `LINE_KINDS`, else a closed border (first point not repeated).
        length_mm: of a line, else None.
        width_um: of a line, else None. Mostly an upper bound: `width_is_bound`.
        area_mm2: of an area, else None.
        radius_min_mm, radius_max_mm: from the disc's centre.
        arc_deg: the angle that it spans about the centre.
        confidence: 0..1 that it is there and is of this kind.
        see_through: a lamp was seen through it, so the mirror is gone, whatever the format.
        reaches_data: of damage of a CD's label, how likely it goes down to the data, 0..1.
    """

    kind: Kind
    outline_mm: FloatArray
    length_mm: Reading | None
    width_um: Reading | None
    width_is_bound: bool
    area_mm2: Reading | None
    radius_min_mm: float
    radius_max_mm: float
    arc_deg: float
    confidence: float
    see_through: bool = False
    reaches_data: float = 1.0


@dataclass(frozen=True, eq=False)
class DamageSurvey:
    """All defects of one disc, the clearest first within each kind."""

    defects: tuple[Defect, ...]
    scratch_density_mm_per_cm2: float
    measured_fraction: float
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True)
class Chance:
    """A probability and its 90 % interval, all 0..1."""

    probability: float
    low: float
    high: float


@dataclass(frozen=True)
class RadiusBand:
    """Share of the tracks between two radii that does not read, expected."""

    radius_min_mm: float
    radius_max_mm: float
    unreadable_fraction: float


@dataclass(frozen=True)
class Playback:
    """The forecast for one format: will every sector read?

    Attributes:
        format: for which it was made; with several possible formats, the worst of them.
        worst_burst_mm: longest run lost along the track, expected.
        correctable_burst_mm: the longest run that this format's error correction mends at any alignment.
        unreadable_fraction: of the data area's tracks, expected.
        worst_radius_mm: where the worst burst lies, None when nothing is lost.
        unreadable_by_radius: the same by bands of radius, from the lead-in to the end of the data area.
        before_learning: the chance as forecast, where the user's own ledger has moved it; else None.
    """

    format: FormatName
    chance: Chance
    worst_burst_mm: float
    correctable_burst_mm: float
    unreadable_fraction: float
    worst_radius_mm: float | None
    unreadable_by_radius: tuple[RadiusBand, ...] = ()
    before_learning: Chance | None = None


@dataclass(frozen=True)
class Polish:
    """What polishing the data side would change.

    Attributes:
        why: names an entry of report/reasons.
        polished: how many polishes it had before.
        may_go_um: of the clear layer that those have left to be taken off, expected.
        before_learning: as of `Playback`.
    """

    possible: bool
    chance: Chance
    why: str
    polished: int = 0
    may_go_um: float = 0.0
    before_learning: Chance | None = None


@dataclass(frozen=True)
class Outlook:
    """What one possible format comes to: as it is, and after a polish."""

    playback: Playback
    polish: Polish


@dataclass(frozen=True)
class Spoken:
    """A rule that spoke: its name, the action it asks for, what it saw and its limit; report/ makes the sentence."""

    rule: str
    action: Action
    value: float | str | None = None
    limit: float | str | None = None


@dataclass(frozen=True)
class Verdict:
    """The action, every rule that spoke (the deciding one first), and the names of the cautions to show."""

    action: Action
    spoken: tuple[Spoken, ...]
    cautions: tuple[str, ...] = ()


def doubts_of(*found: LocatedDisc | FlatDisc | Face | DamageSurvey) -> tuple[Doubt, ...]:
    """Doubts of several rooms, in their order, each once."""
    return tuple(dict.fromkeys(doubt for record in found for doubt in record.doubts))
