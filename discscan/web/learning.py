"""What the ledger teaches: was the forecast right, and how often does a polish help."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from discscan.report import screen_words
from discscan.report.diagram import reliability_diagram
from discscan.web.pages import Pages
from discscan.web.shelf import Shelf


def learning_routes(shelf: Shelf, pages: Pages) -> list[Route]:
    screens = _Learning(shelf, pages)
    return [
        Route("/learning", screens.show),
        Route("/learning", screens.act, methods=["POST"]),
        Route("/learning/diagram.svg", screens.diagram),
    ]


class _Learning:
    def __init__(self, shelf: Shelf, pages: Pages) -> None:
        self._shelf, self._pages = shelf, pages

    def show(self, request: Request) -> Response:
        return self._pages.show("learning.html", lesson=self._shelf.lesson())

    async def act(self, request: Request) -> Response:
        """Learn anew, use it or not, or forget it."""
        form = await request.form(max_files=0, max_fields=2)
        acts = {
            "learn": self._shelf.learn,
            "on": lambda: self._shelf.switch(on=True),
            "off": lambda: self._shelf.switch(on=False),
            "forget": self._shelf.forget,
        }
        act = acts.get(str(form.get("act")))
        if act is None:
            raise HTTPException(422, screen_words.NO_SUCH_ACT)
        await run_in_threadpool(act)
        return RedirectResponse("/learning", 303)

    def diagram(self, request: Request) -> Response:
        lesson = self._shelf.lesson()
        if lesson is None:
            raise HTTPException(404)
        return Response(reliability_diagram(lesson), media_type="image/svg+xml")
