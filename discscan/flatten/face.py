"""What may be said of a disc's face: its side, its recording, the formats that remain possible."""

from __future__ import annotations

from discscan.calibration import setting
from discscan.doubts import Doubt
from discscan.records import Face, FaceReading, FormatName, Recording, Side

FORMATS: tuple[FormatName, FormatName, FormatName] = ("cd", "dvd", "bd")


def face_of(reading: FaceReading, *, given: FormatName | None) -> Face:
    """From probabilities to what may be said: a format is named only when the others are improbable.

    Args:
        given: the format that the person states; it is taken as it is.
    """
    is_data = reading.data >= setting("flatten", "data_sure")
    is_label = 1.0 - reading.data >= setting("flatten", "label_sure")
    side: Side = "data" if is_data else "label" if is_label else "unknown"
    doubts = [Doubt.SIDE_UNCLEAR] if side == "unknown" else []
    recording: Recording = "unknown"
    formats: tuple[FormatName, ...] = FORMATS
    if side == "data":
        if max(reading.recordable, 1.0 - reading.recordable) >= setting("flatten", "recording_sure"):
            recording = "recordable" if reading.recordable > 0.5 else "pressed"
        possible = tuple(
            f for f, p in zip(FORMATS, reading.formats, strict=True) if p >= setting("flatten", "format_possible")
        )
        formats = possible or FORMATS
    if given is not None:
        formats = (given,)
    elif side == "data":
        doubts.append(Doubt.FORMAT_GUESSED if len(formats) == 1 else Doubt.FORMAT_UNKNOWN)
    return Face(
        side=side,
        side_confidence=max(reading.data, 1.0 - reading.data),
        recording=recording,
        format=formats[0] if len(formats) == 1 else "unknown",
        format_source="given" if given is not None else "guessed",
        formats=formats,
        doubts=tuple(doubts),
    )
