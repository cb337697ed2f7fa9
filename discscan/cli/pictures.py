"""Pictures of what a ledger keeps: its photos judged again, with the marks on them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from pathlib import Path
from typing import Any

import discscan
from discscan.cli.outputs import make_folder, write_image
from discscan.cli.streams import say
from discscan.errors import BadTerms
from discscan.events import Event, Item, Readback
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.ledger import kept_photo
from discscan.matches import MergedDisc
from discscan.photo import PhotoLimits, read_photo
from discscan.records import Given
from discscan.report import draw_marks, draw_top_view
from discscan.report import ledger_words as words
from discscan.report.build import disc_report
from discscan.report.kept import kept_discs, photos_in
from discscan.report.readback_picture import draw_read_back

ANY_SIZE = PhotoLimits(max_megapixels=178, max_megabytes=1000)
"""What was judged once may be judged again, whatever limits it had then."""


@dataclass(frozen=True)
class _Again:
    """A disc judged again; `photo` holds it alone, and is None where it was judged from several photos."""

    disc: JudgedDisc
    photo: JudgedPhoto | None


def draw_kept(item: Item, *, photos: Path, folder: Path) -> None:
    """The marks on the last kept photo of each side, and the disc from above."""
    make_folder(folder)
    for scan, kept in kept_discs(item):
        again = _judged_again(scan, photos)
        if again is None:
            say(words.no_photo(scan))
            continue
        stem = f"{item.number}_{kept.side}"
        if again.photo is not None:
            write_image(folder / f"{stem}_marks.jpg", draw_marks(again.photo))
        write_image(folder / f"{stem}_from_above.jpg", draw_top_view(again.disc))
    say(f"Pictures: {folder.resolve()}")


def draw_readback(found: Readback, item: Item, *, photos: Path, out: Path) -> None:
    """Raises BadTerms where there is no photo to draw on."""
    scan = item.last("scanned")
    again = None if scan is None else _judged_again(scan, photos)
    if again is None:
        raise BadTerms(
            "No photo of it is kept to draw on.",
            file=str(out),
            remedy="Keep a scan with its photo first, or leave --picture away.",
        )
    write_image(out, draw_read_back(again.disc, found))
    say(f"Picture: {out.resolve()}")


def _judged_again(scan: Event, photos: Path) -> _Again | None:
    """The kept photos judged again, under the verdict that the disc had; None where one of them is gone."""
    kept = json.loads(scan.document)["photo"]["discs"][0]
    data = [kept_photo(photos, one.sha256 or "") for one in photos_in(scan.document)]
    found = [one for one in data if one is not None]
    if not found or len(found) < len(data):
        return None
    given = Given(kept["format"] if kept["format_source"] == "given" else None)
    again = _one(found[0], kept, given) if len(found) == 1 else _several(found, given)
    if again is None:
        return None
    if disc_report(again.disc).model_dump(mode="json")["defects"] != kept["defects"]:
        say(words.seen_otherwise(scan))
    disc = replace(again.disc, verdict=replace(again.disc.verdict, action=kept["verdict"]["action"]))
    return _Again(disc, again.photo and replace(again.photo, discs=(disc,)))


def _one(data: bytes, kept: Mapping[str, Any], given: Given) -> _Again | None:
    """Of the discs in the photo, the one that lies where the kept one did."""
    judged = discscan.judge_photo(read_photo(data, limits=ANY_SIZE), given=given)
    at = kept["outer_ellipse_px"]

    def apart(disc: JudgedDisc) -> float:
        return hypot(disc.located.rim.cx - at["cx"], disc.located.rim.cy - at["cy"])

    near = min(judged.discs, key=apart, default=None)
    if near is None or apart(near) > at["axis_major"] / 4:
        return None
    return _Again(near, JudgedPhoto(judged.photo, (near,)))


def _several(data: Sequence[bytes], given: Given) -> _Again | None:
    merged: list[MergedDisc] = []
    discscan.scan(
        data, format=given.format, limits=ANY_SIZE, merge=True, on_merged=lambda _, disc: merged.append(disc)
    )  # fmt: skip
    return _Again(merged[0].disc, None) if merged else None
