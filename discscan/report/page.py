"""One self-contained HTML page of all discs: no script, nothing loaded from elsewhere, printable.

An entry is made as soon as a photograph is judged and holds small pictures only, so a long run stays small in memory.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass

import cv2

from discscan.judged import JudgedPhoto
from discscan.matches import MergedDisc
from discscan.records import ByteImage
from discscan.report import defect_words, merged_words, styles, words
from discscan.report.pictures import draw_marks, draw_top_view
from discscan.report.profile import radius_profile
from discscan.report.schema import DiscReport, PhotoReport
from discscan.report.side_by_side import draw_turned_alike

_MARKS_SIDE_PX = 1000
_TOP_WIDTH_PX = 760
_JPEG_QUALITY = 78


@dataclass(frozen=True)
class Picture:
    """A JPEG and its size in pixels."""

    jpeg: bytes
    width: int
    height: int

    @property
    def uri(self) -> str:
        return f"data:image/jpeg;base64,{b64encode(self.jpeg).decode()}"


@dataclass(frozen=True)
class PageEntry:
    """One photograph's part of the page; `marks` is None when it could not be read, `alt` describes them."""

    photo: PhotoReport
    marks: Picture | None
    tops: tuple[Picture, ...]
    alt: str = ""


@dataclass(frozen=True)
class _Place:
    """Where on the page a disc is, for the overview."""

    anchor: str
    name: str
    disc: DiscReport


def page_entry(judged: JudgedPhoto | None, photo: PhotoReport, *, marks_side_px: int = _MARKS_SIDE_PX) -> PageEntry:
    """A photograph's part of the page; `judged` is None for one that could not be read."""
    if judged is None:
        return PageEntry(photo, None, ())
    marks = _picture(draw_marks(judged, max_side_px=marks_side_px))
    tops = tuple(_picture(draw_top_view(disc, width_px=_TOP_WIDTH_PX)) for disc in judged.discs)
    return PageEntry(photo, marks, tops, words.marks_alt(photo))


def merged_entry(merged: MergedDisc, disc: DiscReport) -> PageEntry:
    """The part of several photographs taken as one: told like one photograph, with all of them as its picture."""
    photo = PhotoReport(
        file=merged_words.merged_name(disc), sha256=None, width_px=None, height_px=None, sharpness=None,
        glare_fraction=None, error=None, discs=[disc], turned_down=[],
    )  # fmt: skip
    top = _picture(draw_top_view(merged.disc, width_px=_TOP_WIDTH_PX))
    return PageEntry(photo, _picture(draw_turned_alike(merged)), (top,), merged_words.turned_alike_alt(disc))


def render_page(entries: Sequence[PageEntry], *, merged: Sequence[PageEntry] = ()) -> str:
    """The page as HTML text, the same for the same entries; what was taken together comes first."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # imported late: a scan without --page needs none

    environment = Environment(
        loader=PackageLoader("discscan.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    photos = [entry.photo for entry in entries]
    shown = [*merged, *entries]
    places = list(_places([entry.photo for entry in shown]))
    return environment.get_template("page.html").render(
        entries=shown,
        places=places,
        unread=[photo for photo in photos if photo.error is not None],
        photos=photos,
        words=words,
        defects=defect_words,
        merged=merged_words,
        styles=styles,
        radius_profile=radius_profile,
    )


def _places(photos: Sequence[PhotoReport]) -> list[_Place]:
    places = []
    for number, photo in enumerate(photos, start=1):
        for at, disc in enumerate(photo.discs, start=1):
            name = photo.file if len(photo.discs) == 1 else f"{photo.file}, disc {at}"
            places.append(_Place(f"photo{number}-disc{at}", name, disc))
    return places


def _picture(bgr: ByteImage) -> Picture:
    full_colour = [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]  # thin marks keep theirs
    done, jpeg = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY, *full_colour])
    assert done, "JPEG is built into OpenCV"
    return Picture(jpeg.tobytes(), width=bgr.shape[1], height=bgr.shape[0])
