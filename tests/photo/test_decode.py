"""Photographs as they come: formats, orientations, sizes."""

from __future__ import annotations

import hashlib
import io
import os
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps

from discscan.errors import TooLarge
from discscan.photo import PhotoLimits, read_photo
from discscan.photo.decode import upright

WIDTH, HEIGHT = 320, 240
LOSSY = 4.0  # mean grey levels that JPEG, HEIC and WebP at quality 95 may be away from a smooth picture


def scene() -> np.ndarray:
    """A smooth picture (RGB) with no symmetry, so that every orientation looks different."""
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    return np.stack([x * 255 // WIDTH, y * 255 // HEIGHT, (x + y) * 100 // (WIDTH + HEIGHT)], axis=-1).astype(np.uint8)


def encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def rgb_of(data: bytes) -> np.ndarray:
    return read_photo(data).bgr[..., ::-1].astype(int)


def mean_error(data: bytes, expected: np.ndarray) -> float:
    rgb = rgb_of(data)
    assert rgb.shape == expected.shape
    return float(np.abs(rgb - expected).mean())


def exif(orientation: int) -> bytes:
    tags = Image.Exif()
    tags[0x0112] = orientation
    return tags.tobytes()


# TIFF revision 6.0, page 36, tag 274 (from memory): where row 0 and column 0 of the stored picture belong.
SIDES_OF_ROW_0_AND_COLUMN_0 = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_puts_the_first_row_and_column_where_tiff_6_says(orientation: int) -> None:
    stored = np.zeros((4, 6, 3), np.uint8)
    stored[0, :, 0] = 255
    stored[:, 0, 1] = 255
    turned = upright(stored, exif_orientation=orientation)
    edges = {"top": turned[0], "bottom": turned[-1], "left": turned[:, 0], "right": turned[:, -1]}
    row_0, column_0 = SIDES_OF_ROW_0_AND_COLUMN_0[orientation]
    assert (edges[row_0][:, 0] == 255).all()
    assert (edges[column_0][:, 1] == 255).all()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_file_shows_what_pillow_shows_upright(kind: str, orientation: int) -> None:
    options = {"lossless": True} if kind == "WEBP" else {"quality": 95} if kind == "JPEG" else {}
    data = encoded(Image.fromarray(scene()), kind, exif=exif(orientation), **options)
    expected = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")).astype(int)
    assert mean_error(data, expected) < (0.5 if kind == "JPEG" else 1e-9)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_heic_is_turned_once_though_its_exif_says_it_again(orientation: int) -> None:
    """The writer sets the properties irot and imir and leaves the EXIF tag, as phones do."""
    pillow_heif.register_heif_opener()
    upright_picture = scene().astype(int)
    undo = {6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270, 3: Image.Transpose.ROTATE_180,
            2: Image.Transpose.FLIP_LEFT_RIGHT, 4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE,
            7: Image.Transpose.TRANSVERSE}  # fmt: skip
    stored = Image.fromarray(scene())
    if orientation != 1:
        stored = stored.transpose(undo[orientation])
    data = encoded(stored, "HEIF", quality=95, exif=exif(orientation))
    assert mean_error(data, upright_picture) < LOSSY


def test_the_photo_carries_the_sha256_of_the_file_and_its_name(tmp_path: Path) -> None:
    path = tmp_path / "disc.jpg"
    path.write_bytes(encoded(Image.fromarray(scene()), "JPEG"))
    photo = read_photo(path)
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert photo.name == str(path)
    assert (photo.width_px, photo.height_px) == (WIDTH, HEIGHT)
    assert photo.bgr.dtype == np.uint8 and photo.bgr.flags["C_CONTIGUOUS"]
    assert read_photo(path, name="another").name == "another"


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 0}, {"keep_rgb": True}])
def test_jpegs_of_every_coding_show_the_picture(options: dict[str, object]) -> None:
    assert mean_error(encoded(Image.fromarray(scene()), "JPEG", quality=95, **options), scene()) < LOSSY


def test_a_grey_jpeg_shows_the_picture() -> None:
    grey = Image.fromarray(scene()).convert("L")
    assert mean_error(encoded(grey, "JPEG", quality=95), np.asarray(grey.convert("RGB"))) < LOSSY


def test_a_cmyk_jpeg_with_its_inks_inverted_shows_the_picture() -> None:
    """Writers that add the Adobe marker store 255 - ink (Adobe technical note 5116, from memory)."""
    data = encoded(Image.fromarray(scene()).convert("CMYK"), "JPEG", quality=95)
    assert b"Adobe" in data
    assert mean_error(data, scene()) < LOSSY


def test_a_ycck_jpeg_shows_the_picture() -> None:
    """Adobe technical note 5116, from memory: transform 2 is YCbCr of the inks' complements, and K as it is."""
    y, cb, cr = Image.fromarray(255 - scene()).convert("YCbCr").split()
    k = Image.new("L", y.size, 255)
    stored = Image.merge("CMYK", [band.point(lambda value: 255 - value) for band in (y, cb, cr, k)])
    data = bytearray(encoded(stored, "JPEG", quality=95))  # Pillow writes 255 - value
    transform = data.find(b"Adobe") + 11
    assert data[transform] == 0
    data[transform] = 2
    assert mean_error(bytes(data), scene()) < LOSSY


def test_a_16_bit_grey_png_is_scaled_and_not_cut_off() -> None:
    grey = np.asarray(Image.fromarray(scene()).convert("L")).astype(np.uint16) * 257
    expected = np.repeat((grey >> 8)[..., None], 3, axis=2)
    assert mean_error(encoded(Image.fromarray(grey), "PNG"), expected) == 0
    assert mean_error(encoded(Image.fromarray(grey), "TIFF"), expected) == 0


def test_a_16_bit_colour_png_shows_the_picture() -> None:
    import cv2  # Pillow cannot write one

    done, data = cv2.imencode(".png", scene()[..., ::-1].astype(np.uint16) * 257)
    assert done and mean_error(data.tobytes(), scene()) == 0


def test_palettes_bitmaps_and_first_frames_show_the_picture() -> None:
    picture = Image.fromarray(scene())
    palette = picture.quantize(256)
    shown = np.asarray(palette.convert("RGB")).astype(int)
    assert mean_error(encoded(palette, "PNG"), shown) == 0
    assert mean_error(encoded(palette, "GIF", save_all=True, append_images=[picture.rotate(90)]), shown) < 1
    assert mean_error(encoded(picture, "BMP"), scene()) == 0
    assert mean_error(encoded(picture, "TIFF", compression="tiff_lzw"), scene()) == 0
    assert mean_error(encoded(picture, "WEBP", quality=95), scene()) < LOSSY
    assert mean_error(encoded(picture.convert("1"), "PNG"), np.asarray(picture.convert("1").convert("RGB"))) == 0


def test_what_is_transparent_is_laid_on_white() -> None:
    picture = Image.fromarray(scene()).convert("RGBA")
    picture.paste((0, 0, 0, 0), (0, 0, 50, HEIGHT))
    expected = scene().astype(int)
    expected[:, :50] = 255
    assert mean_error(encoded(picture, "PNG"), expected) == 0
    assert mean_error(encoded(picture, "WEBP", lossless=True), expected) == 0


def test_a_heic_of_10_bits_or_grey_shows_the_picture() -> None:
    pillow_heif.register_heif_opener()
    deep = pillow_heif.from_bytes(mode="RGB;16", size=(WIDTH, HEIGHT), data=(scene().astype(np.uint16) * 256).tobytes())
    buffer = io.BytesIO()
    deep.save(buffer, quality=95)
    assert mean_error(buffer.getvalue(), scene()) < LOSSY
    grey = Image.fromarray(scene()).convert("L")
    assert mean_error(encoded(grey, "HEIF", quality=95), np.asarray(grey.convert("RGB"))) < LOSSY


def test_a_jpeg_with_bytes_after_its_end_is_read() -> None:
    """Phones append films and depth maps."""
    assert mean_error(encoded(Image.fromarray(scene()), "JPEG", quality=95) + bytes(5000), scene()) < LOSSY


def test_damaged_exif_does_not_cost_the_photo() -> None:
    data = encoded(Image.fromarray(scene()), "JPEG", quality=95, exif=exif(6))
    start = data.find(b"Exif\0\0") + 6
    assert mean_error(data[:start] + b"\xff" * 12 + data[start + 12 :], scene()) < LOSSY


def test_a_64_megapixel_camera_is_within_the_limit_and_a_limit_can_be_lowered() -> None:
    picture = encoded(Image.new("L", (9280, 6944), 127), "PNG")  # 64.4 megapixels, as such cameras write
    assert read_photo(picture).width_px == 9280
    with pytest.raises(TooLarge, match="--max-megapixels"):
        read_photo(picture, limits=PhotoLimits(max_megapixels=12))


def test_a_name_that_is_not_text_can_still_be_told(tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(b"disc\xff.jpg")
    path.write_bytes(encoded(Image.fromarray(scene()), "JPEG"))
    assert read_photo(path).name.endswith("disc\\xff.jpg")
