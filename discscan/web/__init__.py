"""The screens of `discscan serve`: routes, templates, static files. No rule, no sum, no SQL, no sentence on a disc."""

from discscan.web.app import build_app
from discscan.web.desk import Desk
from discscan.web.gate import Gate
from discscan.web.limits import DEFAULT, WebLimits
from discscan.web.shelf import Shelf

__all__ = ["DEFAULT", "Desk", "Gate", "Shelf", "WebLimits", "build_app"]
