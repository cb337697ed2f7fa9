"""The advice for the next photograph: its record and its words."""

from __future__ import annotations

from collections.abc import Mapping

from discscan.judged import NextPhoto, UnseenPart
from discscan.records import Action, Side, Sight
from discscan.report.reasons import either, tenths
from discscan.report.schema import NextPhotoReport, UnseenReport

CAUSE: Mapping[Sight, str] = {
    Sight.GLARE: "burnt out",
    Sight.DARK: "too dark",
    Sight.COVERED: "covered",
    Sight.BLURRED: "blurred",
    Sight.OUTSIDE_PHOTO: "outside the picture",
}
_HARDLY = 0.05
_TO: Mapping[Action, str] = {"play": "play", "resurface": "resurface", "pass": "pass up", "retake": "undecided"}


def next_photo_report(found: NextPhoto, *, action: Action, side: Side, rule: str) -> NextPhotoReport:
    """The record of the advice.

    Args:
        rule: that decided.
    """
    unseen = [
        UnseenReport.model_validate(
            {
                "cause": part.sight.name.lower(),
                "share": part.share,
                "from_deg": part.from_deg,
                "to_deg": part.to_deg,
                "radius_min_mm": part.radius_min_mm,
                "radius_max_mm": part.radius_max_mm,
            }
        )
        for part in found.unseen
    ]
    return NextPhotoReport(
        unseen=unseen,
        light_from_deg=found.light_from_deg,
        could_become=list(found.could_become),
        chance_of_change=found.chance_of_change,
        text=_lamp(side) if rule == "label-wound" else _text(found, action, side),
    )


def _lamp(side: Side) -> str:
    """What tells how deep a wound of the label goes."""
    if side == "label":
        return "It takes a photo of the data side to tell, and one of the disc held against a lamp."
    return "It takes a photo of the disc held against a lamp to tell."


def _text(found: NextPhoto, action: Action, side: Side) -> str:
    """Whether another photo is worth it, what it should show, and where the lamp should stand."""
    if side == "label":
        return "It takes a photo of the data side to tell."
    if not found.could_become:
        return (
            "Another photo alone would not settle it." if action == "retake" else "Another photo would not change that."
        )
    sentences = [_worth(found, action)]
    if found.unseen:
        sentences.append(f"Not seen: {'; '.join(_part(part) for part in found.unseen[:2])}.")
    if action != "retake" and found.chance_of_change < _HARDLY:
        return " ".join(sentences)
    if found.light_from_deg is None:
        sentences.append("Let a lamp shine across it from the side, a quarter turn further round than before.")
    else:
        sentences.append(f"Let the light come from {_hour(found.light_from_deg)} o'clock, low.")
    return " ".join(sentences)


def _worth(found: NextPhoto, action: Action) -> str:
    if action == "retake":
        return "It takes another photo to tell."
    could = either([_TO[one] for one in found.could_become])
    if found.chance_of_change < _HARDLY:
        return f"Another photo is hardly worth it: in less than 1 of 20 cases the verdict would become {could}."
    return f"In about {tenths(found.chance_of_change)} of 10 cases another photo would change the verdict, to {could}."


def _part(part: UnseenPart) -> str:
    radius = f"{part.radius_min_mm:.0f} to {part.radius_max_mm:.0f} mm from the centre"
    share = f"{max(1, round(100 * part.share))} % of the data area, {CAUSE[part.sight]}"
    if part.from_deg is None or part.to_deg is None:
        return f"{share}, all the way round, {radius}"
    first, last = _hour(part.from_deg), _hour(part.to_deg)
    where = f"at {first} o'clock" if first == last else f"from {first} to {last} o'clock"
    return f"{share}, {where}, {radius}"


def _hour(angle_deg: float) -> int:
    """On a clock face that lies as the photo does; +x is 3 o'clock, +y (down) is 6."""
    return (round(angle_deg / 30) + 2) % 12 + 1
