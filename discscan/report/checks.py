"""What lies beside the disc: questions, and what their answers do to price and trust."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from discscan.calibration import limit
from discscan.events import Check, Item
from discscan.report.kept import kept_discs

ANSWERS: Mapping[Check, tuple[str, str, str]] = {
    "case": ("Case", "there", "missing"),
    "manual": ("Manual or booklet", "there", "missing"),
    "inserts": ("Inserts", "there", "missing"),
    "right_disc": ("Disc and case", "belong together", "do not belong together"),
    "good_print": ("Print of label and paper", "good", "poor"),
}
"""Question, yes, no: for whoever buys it. That a player was sold with it is of no concern to them."""
NOT_LOOKED_AT = "not looked at"


def answer_lines(item: Item) -> Iterator[str]:
    """Each question with its answer."""
    for check, (question, yes, no) in ANSWERS.items():
        answer = item.checks.get(check)
        yield f"{question}: {NOT_LOOKED_AT if answer is None else yes if answer else no}."


def check_lines(item: Item) -> Iterator[str]:
    """What the answers do to the price, and what they warn of; a trade rule is common practice and has no source."""
    checks, discs = item.checks, [disc for _, disc in kept_discs(item)]
    if checks.get("right_disc") is False:
        yield "The case names another disc: price what is in it, and say so."
    lacks = [ANSWERS[check][0].lower() for check in ("case", "manual") if checks.get(check) is False]
    if lacks:
        half = f"{limit('disc_only_share').value:.0%} or less of the price of the complete item"
        much = f"it brings {half}" if len(lacks) == 2 else f"it brings less; without case and manual it would be {half}"
        yield f"Without {' and '.join(lacks)} {much} (common practice, no source)."
    if checks.get("good_print") is False or any(disc.recording == "recordable" for disc in discs):
        yield "It may be a copy: do not sell it as an original unless you know that it is one."
    if checks.get("player") and any(one.kind == "ring_arc" for disc in discs for one in disc.defects):
        yield (
            "Ring scratches come from a player that was moved, or is faulty: it may be the one sold with it. "
            "Try that with a disc that you can spare."
        )
    unseen = [ANSWERS[check][0].lower() for check in ANSWERS if check not in checks]
    if unseen:
        yield f"Not looked at: {', '.join(unseen)}."
