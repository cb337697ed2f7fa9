"""discscan: from photographs of used discs to play, resurface or pass.

In Python:

    import discscan
    report = discscan.scan(["disc.jpg"])
    print(report.photos[0].discs[0].verdict.action)
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from discscan.compare import same as same
    from discscan.scan import judge_photo as judge_photo
    from discscan.scan import scan as scan

    __version__: str

__all__ = ["__version__", "judge_photo", "same", "scan"]


class _Package(ModuleType):
    def __setattr__(self, name: str, value: Any) -> None:
        """`discscan.scan` is the function, although importing `discscan/scan.py` puts that module under its name."""
        is_the_module = name == "scan" and isinstance(value, ModuleType)
        super().__setattr__(name, value.scan if is_the_module else value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    """Import late: `import discscan` alone costs no OpenCV."""
    if name == "__version__":
        from importlib.metadata import PackageNotFoundError, version

        try:
            return version("discscan")
        except PackageNotFoundError:  # a bare checkout
            return "unknown"
    if name in ("scan", "judge_photo"):
        from importlib import import_module

        return getattr(import_module("discscan.scan"), name)
    if name == "same":
        from importlib import import_module

        return import_module("discscan.compare").same
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
