"""OpenCV comes in four wheels that write the same files: with two of them installed, either may be broken."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from discscan.errors import BrokenInstallation

_OPENCV_WHEELS = (
    "opencv-python-headless", "opencv-python", "opencv-contrib-python-headless", "opencv-contrib-python",
)  # fmt: skip


def require_one_opencv() -> None:
    """Raises BrokenInstallation when more than one of OpenCV's wheels is installed."""
    installed = [wheel for wheel in _OPENCV_WHEELS if _is_installed(wheel)]
    if len(installed) > 1:
        raise BrokenInstallation(
            f"{' and '.join(installed)} are installed together and overwrite each other's files.",
            remedy=f"Run: pip uninstall --yes {' '.join(installed)} && pip install opencv-python-headless",
        )


def _is_installed(wheel: str) -> bool:
    try:
        version(wheel)
    except PackageNotFoundError:
        return False
    return True
