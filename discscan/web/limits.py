"""What the server bears: guards for the machine, not statements about discs."""

from __future__ import annotations

from dataclasses import dataclass

from discscan.bench import SECONDS_PER_PHOTO
from discscan.photo import DEFAULT as PHOTO_DEFAULT
from discscan.photo import PhotoLimits


@dataclass(frozen=True)
class WebLimits:
    """Every bound of the server in one place.

    Attributes:
        waiting: photos that may wait for their verdict; whoever sends more is asked to come back.
        kept: photos whose answers are kept; of more, the oldest are forgotten.
        photos_at_once: in one upload.
        photos_of_one: disc that are taken as one; of more, the first count.
        upload_megabytes, form_kilobytes: of one request's body, for photos and for everything else.
        seconds_per_photo: after which judging it is given up.
        retry_after_s: when to come back to a full queue.
        photo: the photo room's own limits, on each photo.
    """

    waiting: int = 64
    kept: int = 100
    photos_at_once: int = 24
    photos_of_one: int = 8
    upload_megabytes: float = 200.0
    form_kilobytes: float = 16.0
    seconds_per_photo: float = SECONDS_PER_PHOTO
    retry_after_s: int = 20
    photo: PhotoLimits = PHOTO_DEFAULT


DEFAULT = WebLimits()
