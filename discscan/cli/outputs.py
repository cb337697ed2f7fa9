"""The files that a scan leaves: pictures, label images, the page."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import cv2

from discscan.errors import CannotWrite
from discscan.judged import JudgedPhoto
from discscan.matches import MergedDisc
from discscan.records import ByteImage
from discscan.report import (
    DiscReport,
    PageEntry,
    PhotoReport,
    draw_marks,
    draw_top_view,
    label_image,
    merged_entry,
    page_entry,
    render_page,
)
from discscan.report.side_by_side import draw_turned_alike


class Outputs:
    """Writes each photo's pictures as soon as it is judged, so that no more than one photo is ever in memory.

    Raises:
        CannotWrite: a folder cannot be made, or a file not written; folders are tried before any photo is read.
    """

    def __init__(self, *, pictures: Path | None, labels: Path | None, page: Path | None) -> None:
        self._pictures, self._labels, self._page = pictures, labels, page
        self._stems: set[str] = set()
        self._entries: list[PageEntry] = []
        self._merged: list[PageEntry] = []
        for folder in (pictures, labels, None if page is None else page.parent):
            if folder is not None:
                make_folder(folder)
        if page is not None and page.is_dir():
            raise CannotWrite("This is a folder, not a file.", file=str(page), remedy="Name a file, such as page.html.")

    def keep(self, entry: PhotoReport, judged: JudgedPhoto | None) -> None:
        """Write what is wanted of one photo; `judged` is None for one that could not be read."""
        if self._page is not None:
            self._entries.append(page_entry(judged, entry))
        if judged is None:
            return
        stem = self._stem(entry.file)
        if self._pictures is not None:
            write_image(self._pictures / f"{stem}_marks.jpg", draw_marks(judged))
            for number, disc in enumerate(judged.discs, start=1):
                write_image(self._pictures / f"{stem}_from_above_{number}.jpg", draw_top_view(disc))
        if self._labels is not None:
            for place, disc in enumerate(judged.discs):
                write_image(self._labels / f"{stem}_disc{place}.png", label_image(disc))

    def keep_merged(self, entry: DiscReport, merged: MergedDisc) -> None:
        """Write what is wanted of several photos taken as one, under the name of the one that shows most."""
        if self._page is not None:
            self._merged.append(merged_entry(merged, entry))
        stem = self._stem(f"{Path(merged.sources[0].file).stem}_merged")
        if self._pictures is not None:
            write_image(self._pictures / f"{stem}_from_above.jpg", draw_top_view(merged.disc))
            write_image(self._pictures / f"{stem}_side_by_side.jpg", draw_turned_alike(merged))
        if self._labels is not None:
            write_image(self._labels / f"{stem}.png", label_image(merged.disc))

    def finish(self) -> None:
        """Write what needs all photos."""
        if self._page is not None:
            _write(self._page, render_page(self._entries, merged=self._merged).encode())

    def whereabouts(self) -> Iterator[str]:
        """Where to look, a line each."""
        for what, path in (("Pictures", self._pictures), ("Label images", self._labels), ("Page", self._page)):
            if path is not None:
                yield f"{what}: {path.resolve()}"

    def _stem(self, file: str) -> str:
        """The file's name without its ending; of two alike ("a/1.jpg" and "b/1.jpg") the second becomes "1-2"."""
        name = Path(file).stem
        stem, number = name, 1
        while stem in self._stems:
            number += 1
            stem = f"{name}-{number}"
        self._stems.add(stem)
        return stem


def make_folder(folder: Path) -> None:
    """Raises CannotWrite where it cannot be made, or written in."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot(folder, error) from error
    if not os.access(folder, os.W_OK):
        raise CannotWrite(
            "Nothing may be written in this folder.", file=str(folder), remedy="Name another, or change it."
        )


def write_image(path: Path, image: ByteImage) -> None:
    """In the format that its name's ending says.

    Raises:
        CannotWrite: it ends in none that can be written, or the file cannot be written.
    """
    if not cv2.haveImageWriter(path.name):
        raise CannotWrite("No picture has such a name.", file=str(path), remedy="Let it end in .jpg or .png.")
    done, data = cv2.imencode(path.suffix, image)
    assert done, "JPEG and PNG are built into OpenCV"
    _write(path, data.tobytes())


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise _cannot(path, error) from error


def _cannot(path: Path, error: OSError) -> CannotWrite:
    return CannotWrite(
        f"It cannot be written: {error.strerror}.", file=str(path), remedy="Name another place, or make room there."
    )
