"""The register of doubts: what a photograph could not tell, and what to do about it.

A doubt travels with the result. Each entry says what is wrong, what to do for a better photograph, and what it does to
the answer: `widen` makes the interval wider; `hide` means that fine damage does not show, so that the forecast counts
some as not shown, and *play* asks for a higher chance; `forbid play` means that *play* may not be promised, `retake`
that no answer is given, unless what shows all the same can never be mended. `ask` leaves all that was measured as sure
as it is: it is for a person to tell, and no other photograph of the data side does.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Literal

Effect = Literal["widen", "hide", "forbid play", "retake", "ask"]


@dataclass(frozen=True)
class DoubtEntry:
    wrong: str
    remedy: str
    effect: Effect


class Doubt(Enum):
    """Every doubt the tool knows; `Doubt.GLARE.value.wrong` is its sentence."""

    RIM_HIDDEN = DoubtEntry(
        wrong="Part of the rim is hidden or outside the picture.",
        remedy="Hold the disc by its edge and keep the whole rim inside the picture.",
        effect="widen",
    )
    POSE_UNSURE = DoubtEntry(
        wrong="The hole or the rim is too faint to place the disc exactly.",
        remedy="Lay the disc on a plain ground that differs from it, and hold the phone straight above.",
        effect="widen",
    )
    STEEP = DoubtEntry(
        wrong="The disc is seen at a steep angle.",
        remedy="Hold the phone more nearly straight above the disc.",
        effect="widen",
    )
    COARSE = DoubtEntry(
        wrong="The disc is small in the picture, so fine scratches cannot be seen.",
        remedy="Go closer until the disc fills the picture.",
        effect="hide",
    )
    TOO_SMALL = DoubtEntry(
        wrong="The disc is far too small in the picture to judge.",
        remedy="Go closer until the disc fills the picture.",
        effect="retake",
    )
    SOFT = DoubtEntry(
        wrong="The picture is a little soft at the disc.",
        remedy="Touch the disc on the phone's screen to focus, and hold still.",
        effect="hide",
    )
    BLURRED = DoubtEntry(
        wrong="The picture is blurred at the disc.",
        remedy="Touch the disc on the phone's screen to focus, hold still, and use more light.",
        effect="retake",
    )
    GLARE = DoubtEntry(
        wrong="A lamp or window burns out part of the disc.",
        remedy="Tilt the disc a little away from the lamp until it shows something dark.",
        effect="widen",
    )
    DARK = DoubtEntry(
        wrong="Part of the disc is too dark to see scratches on.",
        remedy="Bring a lamp to the side of the disc.",
        effect="widen",
    )
    COVERED = DoubtEntry(
        wrong="Fingers, a tray or something else cover part of the data side.",
        remedy="Hold the disc by hole and edge so that nothing lies over the data side.",
        effect="widen",
    )
    LITTLE_SEEN = DoubtEntry(
        wrong="Too little of the data area was seen well enough to judge.",
        remedy="Photograph the whole data side in even light; several pictures under different light are better.",
        effect="retake",
    )
    HALF_SEEN = DoubtEntry(
        wrong="More than half of the data area was not seen.",
        remedy="Take another picture with the light from another side.",
        effect="forbid play",
    )
    SIDE_UNCLEAR = DoubtEntry(
        wrong="It is not clear whether this is the data side or the label side.",
        remedy="Turn the disc over and photograph the side without print, tilted until the rainbow shows.",
        effect="forbid play",
    )
    FORMAT_UNKNOWN = DoubtEntry(
        wrong="The photograph does not tell which format the disc is; the chance is that of the worst which it may be.",
        remedy="Say which it is with --format cd, dvd or bd: the label or case names it.",
        effect="ask",
    )
    FORMAT_GUESSED = DoubtEntry(
        wrong="The format is guessed from the colours of the mirror.",
        remedy="Say which it is with --format cd, dvd or bd: the label or case names it.",
        effect="ask",
    )
    CLUTTERED = DoubtEntry(
        wrong="Reflections or marks are so many that scratches cannot be told from them one by one.",
        remedy="Turn the disc until its mirror shows something plain and dark, and wipe off dust first.",
        effect="widen",
    )
    NOT_LAID_OVER = DoubtEntry(
        wrong="The disc has too few marks in common to lay all of its photos over one another; some are judged apart.",
        remedy="Look at the verdict of each as well. A lamp low at the side brings out marks that photos share.",
        effect="widen",
    )
    LABEL_DEPTH_UNKNOWN = DoubtEntry(
        wrong="The label is damaged; how deep, no photo of it tells, and on a CD the data lies right under it.",
        remedy="Photograph the data side too, and the disc before a lamp, never the sun: holes shine.",
        effect="ask",
    )
    LABEL_TURN_UNKNOWN = DoubtEntry(
        wrong="How the label lies over the data side is not known, so its damage may be drawn at the wrong angle.",
        remedy="Its distance from the centre is right; look at the label itself for where it is.",
        effect="ask",
    )
    PINHOLE_TURN_UNKNOWN = DoubtEntry(
        wrong="How the disc lay turned before the lamp is not known, so its pinholes may be drawn at the wrong angle.",
        remedy="Their distance from the centre is right; hold it before the lamp again to see where they are.",
        effect="ask",
    )
    LAMP_NO_DISC = DoubtEntry(
        wrong="No disc could be placed in the photo against the lamp, so nothing is known of pinholes.",
        remedy="Use a dim lamp or white screen larger than the disc, its whole rim before it. Never use the sun.",
        effect="ask",
    )
    LAMP_NOT_BEHIND = DoubtEntry(
        wrong="In the photo against the lamp no bright light comes through the hole, so nothing is known of pinholes.",
        remedy="Hold the disc right before the lamp, in a dark room. Never look into a bright lamp or the sun.",
        effect="ask",
    )
