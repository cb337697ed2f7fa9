"""discscan: from photographs of used discs to play, resurface or pass.

import discscan
report = discscan.scan(["disc.jpg"])
print(report.photos[0].discs[0].verdict.action)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from discscan.scan import judge_photo as judge_photo
    from discscan.scan import scan as scan

    __version__: str

__all__ = ["__version__", "judge_photo", "scan"]


def __getattr__(name: str) -> Any:
    """Import late: `import discscan` alone costs no OpenCV."""
    if name == "__version__":
        from importlib.metadata import PackageNotFoundError, version

        try:
            return version("discscan")
        except PackageNotFoundError:  # a bare checkout
            return "unknown"
    if name in ("scan", "judge_photo"):
        from discscan.scan import judge_photo, scan

        globals().update(scan=scan, judge_photo=judge_photo)  # over the module `scan`, which that import put there
        return globals()[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
