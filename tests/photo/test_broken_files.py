"""Files that cannot be judged: one clear error each, and never a guess at their pixels."""

from __future__ import annotations

import io
import os
import struct
import tracemalloc
import warnings
import zlib
from functools import cache
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from discscan.errors import (
    BrokenPhoto,
    EmptyFile,
    IsAFolder,
    NoPermission,
    NoSuchFile,
    NotAPhoto,
    TooLarge,
    TooSmall,
    UnreadablePhoto,
)
from discscan.photo import PhotoLimits, read_photo


def noisy(kind: str, **options: object) -> bytes:
    """A file of many bytes, so that a cut hits pixels."""
    pixels = np.random.default_rng(1).integers(0, 256, (240, 320, 3), dtype=np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, kind, **options)
    return buffer.getvalue()


@cache
def png_with_header(width: int, height: int) -> bytes:
    """A small PNG that unpacks to `width` x `height` grey pixels (PNG 3rd edition, 11.2)."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    row = bytes(width + 1)
    packer = zlib.compressobj(9)
    pixels = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def test_a_missing_file_a_folder_and_an_empty_file_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").write_bytes(b"")
    with pytest.raises(NoSuchFile):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(NoSuchFile):
        read_photo(tmp_path / "empty.jpg" / "below.jpg")
    with pytest.raises(NoSuchFile):
        read_photo("a\0b.jpg")
    with pytest.raises(IsAFolder):
        read_photo(tmp_path)
    with pytest.raises(EmptyFile):
        read_photo(tmp_path / "empty.jpg")
    with pytest.raises(EmptyFile):
        read_photo(b"")
    with pytest.raises(UnreadablePhoto):
        read_photo(tmp_path / ("n" * 5000))


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    path = tmp_path / "private.jpg"
    path.write_bytes(noisy("JPEG"))
    path.chmod(0)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)  # root may read everything
    try:
        with pytest.raises(NoPermission):
            read_photo(path)
    finally:
        if root:
            os.seteuid(0)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    with pytest.raises(NotAPhoto):
        read_photo(tmp_path / "pipe.jpg")
    with pytest.raises(NotAPhoto):
        read_photo("/dev/zero")


@pytest.mark.parametrize("data", [b"Dear library,\n" * 99, b"\0" * 5000, b"%PDF-1.7\n" * 99, b"\0\0\0 ftypisom" * 99])
def test_what_is_no_picture_is_called_that(data: bytes) -> None:
    with pytest.raises(NotAPhoto):
        read_photo(data)


KINDS = {
    "jpeg": ("JPEG", {}),
    "progressive jpeg": ("JPEG", {"progressive": True}),
    "png": ("PNG", {}),
    "webp": ("WEBP", {}),
    "tiff": ("TIFF", {}),
    "packed tiff": ("TIFF", {"compression": "tiff_lzw"}),
    "bmp": ("BMP", {}),
    "gif": ("GIF", {}),
    "heic": ("HEIF", {}),
}


@pytest.mark.parametrize("kept", [0.02, 0.3, 0.7, 0.99])
@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_short_is_refused_and_not_filled_with_grey(kind: str, kept: float) -> None:
    pillow_heif.register_heif_opener()
    name, options = KINDS[kind]
    data = noisy(name, **options)
    read_photo(data)
    with pytest.raises(BrokenPhoto) as caught:
        read_photo(data[: int(len(data) * kept)], name="cut")
    assert caught.value.file == "cut"


def test_a_jpeg_with_a_hole_in_its_middle_is_refused() -> None:
    data = noisy("JPEG", quality=95)
    middle = len(data) // 2
    with pytest.raises(BrokenPhoto):
        read_photo(data[:middle] + bytes(2000) + data[middle + 2000 :])


def test_a_bomb_is_refused_from_its_header_without_unpacking_it() -> None:
    bomb = png_with_header(16_000, 16_000)
    assert len(bomb) < 400_000
    tracemalloc.start()
    with pytest.raises(TooLarge) as caught:
        read_photo(bomb, name="bomb.png")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5_000_000
    assert "178" in caught.value.what


def test_limits_of_size_hold_and_can_be_raised() -> None:
    picture = png_with_header(10_000, 9_500)  # 95 megapixels: past the size from which Pillow warns
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(TooLarge, match="95 megapixels; the limit is 64"):
            read_photo(picture)
        with pytest.raises(BrokenPhoto):  # let through, and found to be cut short
            read_photo(picture[:-100], limits=PhotoLimits(max_megapixels=100))
    with pytest.raises(TooLarge, match="--max-megabytes"):
        read_photo(picture, limits=PhotoLimits(max_megapixels=100, max_megabytes=0.05))


def test_the_megabytes_are_counted_before_the_whole_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.jpg"
    with path.open("wb") as file:
        file.truncate(40_000_000_000)  # a hole: takes no room on the disk
    with pytest.raises(TooLarge):
        read_photo(path)


def test_pillows_own_guard_is_left_as_it_was() -> None:
    before = Image.MAX_IMAGE_PIXELS
    read_photo(noisy("PNG"))
    assert before == Image.MAX_IMAGE_PIXELS


def test_a_thumbnail_is_too_small() -> None:
    with pytest.raises(TooSmall, match="160 x 120"):
        read_photo(png_with_header(160, 120))


def test_a_header_that_lies_about_the_size_is_refused() -> None:
    data = bytearray(noisy("BMP"))
    struct.pack_into("<i", data, 22, 2400)
    with pytest.raises(BrokenPhoto):
        read_photo(bytes(data))


def test_no_bytes_whatever_raise_anything_but_an_error_for_people() -> None:
    """Seeds of every format with bytes changed at random."""
    pillow_heif.register_heif_opener()
    rng = np.random.default_rng(7)
    for name, options in KINDS.values():
        seed = noisy(name, **options)
        for _ in range(12):
            data = np.frombuffer(seed, np.uint8).copy()
            places = rng.integers(0, min(len(data), 600), 8)
            data[places] = rng.integers(0, 256, 8)
            try:
                read_photo(data.tobytes())
            except UnreadablePhoto as error:
                assert error.what and error.remedy and error.file
