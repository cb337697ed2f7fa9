"""Templates, and what they share with the printable page: its symbols, its colours, its words."""

from __future__ import annotations

from typing import Any

import segno
from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from starlette.responses import HTMLResponse

from discscan.report import (
    defect_words,
    learn_words,
    ledger_words,
    merged_words,
    money_words,
    screen_words,
    stack_words,
    styles,
    words,
)
from discscan.report.overlay import outlines
from discscan.report.profile import radius_profile
from discscan.report.reasons import FORMAT
from discscan.stack.outputs import spot_words
from discscan.web import entries, forms


class Pages:
    """
    Args:
        address: the link to show as a square code, or None.
        with_stack: there is a stack to go through.
    """

    def __init__(self, *, address: str | None, with_stack: bool = False) -> None:
        self._environment = Environment(
            loader=ChoiceLoader(
                [PackageLoader("discscan.web"), PackageLoader("discscan.stack"), PackageLoader("discscan.report")]
            ),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.globals.update(
            words=words, defects=defect_words, radius_profile=radius_profile, money=money_words,
            screen=screen_words, styles=styles, forms=forms, formats=FORMAT,
            outlines=outlines, ledger=ledger_words, learning=learn_words, merged=merged_words, stack=stack_words,
            entries=entries, where=spot_words, with_stack=with_stack, address=address,
            qr=None if address is None else square_code(address),
        )  # fmt: skip
        self.css = self._environment.get_template("site.css").render()

    def show(self, template: str, status: int = 200, **context: Any) -> HTMLResponse:
        return HTMLResponse(self._environment.get_template(template).render(**context), status)


def square_code(address: str) -> str:
    """A QR code as SVG; the light ground belongs to it, so that it can be read on a dark page too."""
    return segno.make(address, error="m").svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True)
