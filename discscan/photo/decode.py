"""From a file to upright pixels: the header is read and judged before anything is decoded."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import simplejpeg
from PIL import ExifTags, Image

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
from discscan.photo.sources import Source
from discscan.records import ByteImage, Photo

_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")
_BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG", b"RIFF", b"II*\0", b"MM\0*", b"BM", b"GIF8")
_READS = "Give a JPEG, PNG, WebP, HEIC, TIFF, BMP or GIF."
_AGAIN = "Copy the original file again, or take the photo again."
_MEGA = 1_000_000


@dataclass(frozen=True)
class PhotoLimits:
    """What is refused before it is decoded: a guard for the machine, not a statement about discs.

    Nothing over 178 megapixels is ever read, whatever the limit.
    """

    max_megapixels: float = 64.0
    max_megabytes: float = 30.0
    min_megapixels: float = 0.05


DEFAULT = PhotoLimits()


def read_photo(source: Source, *, name: str | None = None, limits: PhotoLimits = DEFAULT) -> Photo:
    """Decode a photograph and turn it upright.

    Reads JPEG (also progressive, grey, CMYK), PNG (also 16 bit, palette, transparent: laid on white), WebP, HEIC, and
    the first picture of a TIFF, BMP or GIF.

    Args:
        source: the file, or its bytes.
        name: to call it by in reports and errors; the file's name as given when left out.
    Raises:
        UnreadablePhoto: one of its kinds, with the name, what is wrong and what to do.
    """
    if isinstance(source, bytes):
        name = "(bytes)" if name is None else name
        data = source
    else:
        name = os.fsencode(source).decode(errors="backslashreplace") if name is None else name
        data = contents(source, name=name, limits=limits)
    _check_bytes(data, name, limits)
    bgr = _decode_heic(data, name, limits) if _is_heic(data) else _decode(data, name, limits)
    return Photo(name=name, sha256=hashlib.sha256(data).hexdigest(), bgr=bgr)


def check_photo(data: bytes, *, name: str, limits: PhotoLimits = DEFAULT) -> str:
    """What can be said against a photograph before it is decoded.

    Returns:
        the sha256 of its bytes, hex.
    Raises:
        UnreadablePhoto: as `read_photo` would, but for what only decoding brings to light.
    """
    _check_bytes(data, name, limits)
    _ = _opened_heic(data, name, limits) if _is_heic(data) else _opened(data, name, limits)
    return hashlib.sha256(data).hexdigest()


def _check_bytes(data: bytes, name: str, limits: PhotoLimits) -> None:
    if not data:
        raise EmptyFile("The file is empty.", file=name, remedy=_AGAIN)
    if len(data) > limits.max_megabytes * _MEGA:
        raise TooLarge(
            f"The file is larger than {limits.max_megabytes:g} megabytes.",
            file=name,
            remedy="Make a smaller copy, or raise the limit with --max-megabytes.",
        )


def _is_heic(data: bytes) -> bool:
    return data[4:8] == b"ftyp"


def contents(source: str | os.PathLike[str], *, name: str, limits: PhotoLimits = DEFAULT) -> bytes:
    """A file's bytes; of one that is larger than the limit, one byte more than that.

    Raises:
        UnreadablePhoto: as `read_photo` would for the file itself.
    """
    try:
        mode = os.stat(source).st_mode  # noqa: PTH116  Path("") would be the folder that one stands in
        if stat.S_ISDIR(mode):
            raise IsAFolder("This folder holds no photos.", file=name, remedy="Name a folder that does, or photos.")
        if not stat.S_ISREG(mode):
            raise NotAPhoto("This is a device or a pipe, not a file.", file=name, remedy="Name a photo's file.")
        with Path(source).open("rb") as file:
            return file.read(int(limits.max_megabytes * _MEGA) + 1)
    except PermissionError as error:
        raise NoPermission(
            "You may not read this file.", file=name, remedy="Change its permissions, or copy it to a place of yours."
        ) from error
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:  # ValueError: a null byte in the name
        raise NoSuchFile("There is no such file.", file=name, remedy="Check how its name is written.") from error
    except OSError as error:
        raise UnreadablePhoto(f"The file cannot be read: {error.strerror}.", file=name, remedy=_AGAIN) from error


def _opened(data: bytes, name: str, limits: PhotoLimits) -> Image.Image:
    """The picture by its header, nothing of it decoded."""
    with _quiet_pillow():
        try:
            image: Image.Image = Image.open(io.BytesIO(data), formats=_FORMATS)
        except Image.DecompressionBombError as error:
            raise _too_many_pixels("over 178", name, limits) from error
        except Exception as error:  # whatever a parser meets in bytes that are not its own
            raise _unreadable(data, name) from error
    _check_size(image.size, name, limits)
    return image


@contextmanager
def _quiet_pillow() -> Iterator[None]:
    """Without Pillow's warnings, about sizes that the limits judge and broken files that raise here."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _decode(data: bytes, name: str, limits: PhotoLimits) -> ByteImage:
    image = _opened(data, name, limits)
    with _quiet_pillow():
        try:
            if image.format in ("JPEG", "MPO"):
                bgr: ByteImage = simplejpeg.decode_jpeg(data, colorspace="BGR", strict=True)  # strict: cut short raises
            else:
                image.load()
                bgr = _bgr(image)
        except Exception as error:  # decoders raise whatever they like on damaged data
            raise _broken(name) from error
        return upright(bgr, exif_orientation=_exif_orientation(image))


def _opened_heic(data: bytes, name: str, limits: PhotoLimits) -> Any:
    import pi_heif  # late: few photos need it

    if not pi_heif.is_supported(data):  # a film, or a picture of another kind in the same box
        raise NotAPhoto("This is not a picture that can be read.", file=name, remedy=_READS)
    try:
        heif = pi_heif.open_heif(data, convert_hdr_to_8bit=True)
        size_px = heif.size
    except Exception as error:  # as above
        raise _broken(name) from error
    _check_size(size_px, name, limits)
    return heif


def _decode_heic(data: bytes, name: str, limits: PhotoLimits) -> ByteImage:
    """libheif turns the picture by the file's own properties, which rule over EXIF (ISO/IEC 23008-12, from memory)."""
    heif = _opened_heic(data, name, limits)
    try:
        return _bgr(heif.to_pillow())
    except Exception as error:
        raise _broken(name) from error


def _bgr(image: Image.Image) -> ByteImage:
    if image.mode.startswith("I"):  # 16-bit grey, which Pillow would cut off at 255 instead of scaling
        grey = (np.clip(np.asarray(image), 0, 0xFFFF) >> 8).astype(np.uint8)
        return _bytes(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR))
    if image.has_transparency_data:
        image = image.convert("RGBA")
        image = Image.alpha_composite(Image.new("RGBA", image.size, "white"), image)
    return _bytes(cv2.cvtColor(np.asarray(image.convert("RGB")), cv2.COLOR_RGB2BGR))


def upright(bgr: ByteImage, *, exif_orientation: int) -> ByteImage:
    """The picture as it is to be looked at: `exif_orientation` is tag 274, 1 to 8 (TIFF 6.0, page 36, from memory)."""
    match exif_orientation:
        case 2:
            return _bytes(cv2.flip(bgr, 1))
        case 3:
            return _bytes(cv2.rotate(bgr, cv2.ROTATE_180))
        case 4:
            return _bytes(cv2.flip(bgr, 0))
        case 5:
            return _bytes(cv2.transpose(bgr))
        case 6:
            return _bytes(cv2.rotate(bgr, cv2.ROTATE_90_CLOCKWISE))
        case 7:
            return _bytes(cv2.rotate(cv2.transpose(bgr), cv2.ROTATE_180))
        case 8:
            return _bytes(cv2.rotate(bgr, cv2.ROTATE_90_COUNTERCLOCKWISE))
        case _:
            return bgr


def _exif_orientation(image: Image.Image) -> int:
    """1 when there is none, or when EXIF is damaged: the photo itself may well be sound."""
    try:
        return int(image.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:
        return 1


def _bytes(array: np.typing.NDArray[np.generic]) -> ByteImage:
    return np.asarray(array, dtype=np.uint8)


def _check_size(size_px: tuple[int, int], name: str, limits: PhotoLimits) -> None:
    width_px, height_px = size_px
    megapixels = width_px * height_px / _MEGA
    if megapixels >= limits.max_megapixels + 0.5:  # a camera sold as 64 megapixels writes up to 64.4
        raise _too_many_pixels(f"{megapixels:.0f}", name, limits)
    if megapixels < limits.min_megapixels:
        raise TooSmall(
            f"The picture has only {width_px} x {height_px} pixels.",
            file=name,
            remedy="Give the photo itself, not a thumbnail of it.",
        )


def _too_many_pixels(megapixels: str, name: str, limits: PhotoLimits) -> TooLarge:
    return TooLarge(
        f"The picture has {megapixels} megapixels; the limit is {limits.max_megapixels:g}.",
        file=name,
        remedy="Make a smaller copy, or raise the limit with --max-megapixels (up to 178).",
    )


def _unreadable(data: bytes, name: str) -> UnreadablePhoto:
    if data.startswith(_BEGINNINGS):
        return _broken(name)
    return NotAPhoto("This is not a picture that can be read.", file=name, remedy=_READS)


def _broken(name: str) -> BrokenPhoto:
    return BrokenPhoto("The picture is cut short or damaged.", file=name, remedy=_AGAIN)
