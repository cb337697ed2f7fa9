"""Sentences of the screens: about a photo that waits, was refused, or has no chances to reckon with."""

from __future__ import annotations

from collections.abc import Mapping

from discscan.errors import DiscscanError
from discscan.report.schema import DoubtReport

RECEIVED = "Received."
JUDGING = "It is being judged now."
NO_FORECAST = "There is no forecast for this disc, so nothing can be reckoned. Photograph its data side."
QUEUE_FULL = "Too many photos are waiting. Nothing was taken of these. Send them again in a moment."
NONE_SENT = "No photo was sent. Choose one first."
UNKNOWN_PHOTO = "This photo is not here, or no longer. Send it again."
NO_SUCH_PAGE = "There is no such page."
NO_SUCH_ANSWER = "This is none of the answers: a format and how often it was polished are chosen from those shown."
POLISHED = {"0": "Not that I know", "1": "Once", "2": "Twice", "3": "More often"}
TITLE_AND_PRICE = "Say what the disc is called, and what was paid as an amount such as 4.50, or nothing."
NOTHING_LEARNED = "Nothing was learned yet."
NEEDED = "This is needed."
NO_SUCH_KIND = "This is nothing that can happen to an item."
NO_SUCH_ACT = "This cannot be done here."
NOT_CORRECTED = "A scan is not corrected: take it back, and keep another."
BUDGET_OR_BOX = "Say either the cash at hand or the price of the whole box."
DONE: Mapping[str, str] = {"written": "Written.", "undone": "Taken back.", "corrected": "Corrected."}
AGAINST_LAMP = (
    "In a dark room, hold the disc by its edge before a lamp or white screen that is larger than it. Where light comes "
    "through, the data is gone. Never use the sun, and do not stare into a bright lamp: photograph it."
)
SAFE_TO_RETRY = "Sending a photo again makes no second one."

_NAME_IT = "Say below which it is: the label or the case names it."
_REMEDY: Mapping[str, str] = {
    "too-large": "Send a smaller copy.",
    "format_unknown": _NAME_IT,
    "format_guessed": _NAME_IT,
    "no-such-item": "It may have been taken back. Look at the ledger's page.",
    "out-of-order": "If something written before is wrong, take that back first.",
}
"""Where an error's or a doubt's own remedy names an option of the command line."""


def waiting(ahead: int) -> str:
    """How long the queue is, for somebody in it."""
    if ahead == 0:
        return "It is the next to be judged."
    return f"{ahead} {'photo is' if ahead == 1 else 'photos are'} judged before it."


def nothing_found(text: str) -> str:
    """Where the ledger shows no item."""
    return f"Nothing is called {text} or mentions it." if text else "The ledger is empty. Add what you found or bought."


def more_items(count: int) -> str:
    """Where the ledger's page ends before its items do."""
    return f"{count} older {'item is' if count == 1 else 'items are'} found by searching."


def refused(error: DiscscanError) -> str:
    return f"{error.what} {_REMEDY.get(error.code, error.remedy)}"


def remedy(doubt: DoubtReport) -> str:
    """What to do about a doubt, for somebody at a screen."""
    return _REMEDY.get(doubt.code, doubt.remedy)


def too_heavy(megabytes: float) -> str:
    return f"A photo of these is larger than {megabytes:g} megabytes. Send a smaller copy."
