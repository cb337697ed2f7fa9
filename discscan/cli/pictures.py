"""Pictures of what a ledger keeps: its photos judged again, with the marks on them."""

from __future__ import annotations

import json
from dataclasses import replace
from math import hypot
from pathlib import Path

import discscan
from discscan.cli.outputs import make_folder, write_image
from discscan.cli.streams import say
from discscan.errors import BadTerms
from discscan.events import Event, Item, Readback
from discscan.ledger import kept_photo
from discscan.photo import PhotoLimits, read_photo
from discscan.records import JudgedPhoto
from discscan.report import draw_marks, draw_top_view
from discscan.report import ledger_words as words
from discscan.report.build import disc_report
from discscan.report.kept import kept_discs
from discscan.report.readback_picture import draw_read_back

ANY_SIZE = PhotoLimits(max_megapixels=178, max_megabytes=1000)
"""What was judged once may be judged again, whatever limits it had then."""


def draw_kept(item: Item, *, photos: Path, folder: Path) -> None:
    """The marks on the last kept photo of each side, and the disc from above."""
    make_folder(folder)
    for scan, disc in kept_discs(item):
        judged = _judged_again(scan, photos)
        if judged is None:
            say(words.no_photo(scan))
            continue
        stem = f"{item.number}_{disc.side}"
        write_image(folder / f"{stem}_marks.jpg", draw_marks(judged))
        write_image(folder / f"{stem}_from_above.jpg", draw_top_view(judged.discs[0]))
    say(f"Pictures: {folder.resolve()}")


def draw_readback(found: Readback, item: Item, *, photos: Path, out: Path) -> None:
    """Raises BadTerms where there is no photo to draw on."""
    scan = item.last("scanned")
    judged = None if scan is None else _judged_again(scan, photos)
    if judged is None:
        raise BadTerms(
            "No photo of it is kept to draw on.",
            file=str(out),
            remedy="Keep a scan with its photo first, or leave --picture away.",
        )
    write_image(out, draw_read_back(judged.discs[0], found))
    say(f"Picture: {out.resolve()}")


def _judged_again(scan: Event, photos: Path) -> JudgedPhoto | None:
    """The kept photo with the one disc of the kept report, under the verdict that it had; None where it is gone."""
    shown = json.loads(scan.document)["photo"]
    (kept,) = shown["discs"]
    data = kept_photo(photos, shown.get("sha256") or "")
    if data is None:
        return None
    given = kept["format"] if kept["format_source"] == "given" else None
    judged = discscan.judge_photo(read_photo(data, name=shown["file"], limits=ANY_SIZE), format=given)
    at = kept["outer_ellipse_px"]
    near = [
        (apart, disc)
        for disc in judged.discs
        if (apart := hypot(disc.located.rim.cx - at["cx"], disc.located.rim.cy - at["cy"])) < at["axis_major"] / 4
    ]
    if not near:
        return None
    disc = min(near, key=lambda one: one[0])[1]
    if disc_report(disc).model_dump(mode="json")["defects"] != kept["defects"]:
        say(words.seen_otherwise(scan))
    alone = replace(disc, verdict=replace(disc.verdict, action=kept["verdict"]["action"]))
    return JudgedPhoto(judged.photo, (alone,))
