"""Files stop here: further in there are only arrays and records."""

from discscan.photo.installation import require_one_opencv

require_one_opencv()  # before the next line imports cv2, which two of its wheels together may break

from discscan.photo.barcode import read_barcode  # noqa: E402
from discscan.photo.decode import DEFAULT, PhotoLimits, check_photo, contents, read_photo  # noqa: E402
from discscan.photo.sources import Source, by_disc, expand, is_photo  # noqa: E402

__all__ = [
    "DEFAULT",
    "PhotoLimits",
    "Source",
    "by_disc",
    "check_photo",
    "contents",
    "expand",
    "is_photo",
    "read_barcode",
    "read_photo",
    "require_one_opencv",
]
