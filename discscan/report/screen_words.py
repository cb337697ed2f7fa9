"""Sentences of the screens: about a photo that waits, was refused, or has no chances to reckon with."""

from __future__ import annotations

from collections.abc import Mapping

from discscan.errors import DiscscanError

RECEIVED = "Received."
JUDGING = "It is being judged now."
NO_FORECAST = "There is no forecast for this disc, so nothing can be reckoned. Photograph its data side."
QUEUE_FULL = "Too many photos are waiting. Nothing was taken of these. Send them again in a moment."
NONE_SENT = "No photo was sent. Choose one first."
UNKNOWN_PHOTO = "This photo is not here, or no longer. Send it again."
NO_SUCH_PAGE = "There is no such page."
NO_SUCH_FORMAT = "This is none of the formats. Choose CD, DVD, BD or not known."
SAFE_TO_RETRY = "Sending a photo again makes no second one."

_REMEDY: Mapping[str, str] = {"too-large": "Send a smaller copy."}
"""Where an error's own remedy names an option of the command line."""


def waiting(ahead: int) -> str:
    """How long the queue is, for somebody in it."""
    if ahead == 0:
        return "It is the next to be judged."
    return f"{ahead} {'photo is' if ahead == 1 else 'photos are'} judged before it."


def refused(error: DiscscanError) -> str:
    return f"{error.what} {_REMEDY.get(error.code, error.remedy)}"


def too_heavy(megabytes: float) -> str:
    return f"A photo of these is larger than {megabytes:g} megabytes. Send a smaller copy."
