"""What a buyer sent back: is it the disc that was sold?"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

from discscan import same
from discscan.cli.pictures import ANY_SIZE
from discscan.errors import BadTerms
from discscan.events import Item
from discscan.ledger import keep_photo, kept_photo
from discscan.report.kept import photos_in
from discscan.report.same import SameReport, same_report

GOOD = {"same": True, "another": False, "cannot tell": None}
"""What each answer says of the disc that came back."""


def compare(item: Item, photos: Sequence[Path], *, kept: Path) -> SameReport:
    """The plainest answer that the photos of what came back give against those kept of what was sold.

    The photos are kept as well. One pair that tells outweighs any that do not; "same" outweighs "another", since marks
    that agree are not there by chance, while light can hide them.

    Raises:
        BadTerms: no photo of it is kept.
        UnreadablePhoto: one of the photos cannot be read, or shows no disc.
    """
    sold = list(_of_the_sale(item, kept))
    if not sold:
        raise BadTerms(
            "No photo of its data side is kept from before the sale.",
            remedy="Say --same or --another, if you know, or leave the photo away.",
        )
    answers = [_answer(file, data, photo) for photo in photos for file, data in sold]
    for photo in photos:
        keep_photo(kept, photo.read_bytes())
    order = list(GOOD)
    return min(answers, key=lambda told: order.index(told.answer))


def _of_the_sale(item: Item, kept: Path) -> Iterator[tuple[str, bytes]]:
    """The photos of data sides that were kept before it was sold last, under their names."""
    end = max(number for number, event in enumerate(item.events) if event.kind == "sold")
    for event in item.events[:end]:
        if event.kind == "scanned":
            side = json.loads(event.document)["photo"]["discs"][0]["side"]
            for photo in photos_in(event.document) if side != "label" else ():
                data = kept_photo(kept, photo.sha256 or "")
                if data is not None:
                    yield photo.file, data


def _answer(file: str, sold: bytes, photo: Path) -> SameReport:
    return same_report(same(sold, str(photo), limits=ANY_SIZE), (file, str(photo)))
