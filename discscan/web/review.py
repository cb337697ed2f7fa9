"""Going through a judged stack: agree, say otherwise, take back; then all decided discs into the ledger in one go."""

from __future__ import annotations

from datetime import date
from typing import cast

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from discscan.events import Event
from discscan.money import parse_money
from discscan.records import Action
from discscan.report import stack_words
from discscan.stack import Group, Review
from discscan.stack.outputs import by_todo, without_disc
from discscan.web.entries import SOURCE
from discscan.web.forms import Field, Filled, read
from discscan.web.pages import Pages
from discscan.web.shelf import Shelf

COST = Field("cost", "Paid for each", "leave it empty for discs that are not bought yet", parse_money)
NAMED = Field("named", "Discs without a title are called", "with their number", needed=True)
INTO_LEDGER = (NAMED, COST, SOURCE)


def review_routes(review: Review, shelf: Shelf, pages: Pages) -> list[Route]:
    screens = _Stack(review, shelf, pages)
    return [
        Route("/stack", screens.sheet),
        Route("/stack/undo", screens.undo, methods=["POST"]),
        Route("/stack/ledger", screens.keep, methods=["POST"]),
        Route("/stack/{number:int}", screens.disc),
        Route("/stack/{number:int}", screens.decide, methods=["POST"]),
        Route("/stack/{number:int}/{what}.jpg", screens.picture),
    ]


class _Stack:
    def __init__(self, review: Review, shelf: Shelf, pages: Pages) -> None:
        self._review, self._shelf, self._pages = review, shelf, pages

    def sheet(self, request: Request) -> Response:
        return self._show_sheet(done=request.query_params.get("kept"))

    def disc(self, request: Request) -> Response:
        group = self._group(request)
        groups, standing = self._review.groups, self._review.standing()
        return self._pages.show(
            "review.html", group=group, of=len(groups), decision=standing.get(group.key), decided=len(standing),
            undone=request.query_params.get("done") == "undone",
        )  # fmt: skip

    async def decide(self, request: Request) -> Response:
        """The button's name says what is to be done; the key says which disc was looked at."""
        form = await request.form(max_files=0, max_fields=4)
        group = next((one for one in self._review.groups if one.key == form.get("disc")), None)
        if group is None:
            raise HTTPException(404, stack_words.NO_SUCH_DISC)
        action = form.get("action")
        if action not in stack_words.TODO:
            raise HTTPException(422, stack_words.NO_SUCH_TODO)
        title = str(form.get("title") or "")[: NAMED.longest]
        await run_in_threadpool(lambda: self._review.decide(group, cast(Action, action), title=title))
        return RedirectResponse(self._next(group.number), 303)

    async def undo(self, request: Request) -> Response:
        undone = await run_in_threadpool(self._review.undo)
        group = next((one for one in self._review.groups if undone is not None and one.key == undone.key), None)
        return RedirectResponse("/stack" if group is None else f"/stack/{group.number}?done=undone", 303)

    async def keep(self, request: Request) -> Response:
        """Into the ledger in one go: one write, all or none."""
        filled = read(INTO_LEDGER, await request.form(max_files=0, max_fields=4))
        if filled.wrong:
            return self._show_sheet(status=422, filled=filled)
        count = await run_in_threadpool(lambda: self._keep(filled))
        return RedirectResponse(f"/stack?kept={count}", 303)

    def picture(self, request: Request) -> Response:
        """One of the disc's pictures; the address chooses among them and is never part of a path."""
        what = request.path_params["what"]
        try:
            if what not in ("thumb", "above", "marks", "label"):
                raise HTTPException(404)
            jpeg = (self._review.pictures / self._group(request).picture(what)).read_bytes()
        except OSError:
            raise HTTPException(404) from None
        return Response(jpeg, media_type="image/jpeg")

    def _keep(self, filled: Filled) -> int:
        told = filled.told

        def make(known: list[Event]) -> list[Event]:
            return self._review.events(
                known, day=date.today(), source=told.get("source", ""), cost=told.get("cost"), named=told["named"]
            )

        with self._shelf.book() as book:
            self._shelf.keep_photos(self._review.originals(make(book.events())))  # first: what is written is there
            return sum(event.key == event.item for event in book.add(make))

    def _show_sheet(self, *, status: int = 200, filled: Filled | None = None, done: str | None = None) -> Response:
        groups, standing = self._review.groups, self._review.standing()
        kept = int(done) if done is not None and done.isascii() and done.isdigit() else None
        return self._pages.show(
            "stack_review.html", status, groups=groups, sorts=by_todo(groups), photos=self._review.photos,
            without=without_disc(self._review.photos), standing=standing, next=self._next(0), fields=INTO_LEDGER,
            kept=kept, going_on=self._review.still_judged, filled=filled or Filled({"named": self._review.name}),
        )  # fmt: skip

    def _next(self, after: int) -> str:
        """The next disc that nobody decided on, behind this one or else from the beginning; the sheet when none is."""
        standing = self._review.standing()
        waiting = [group.number for group in self._review.groups if group.key not in standing]
        behind = [number for number in waiting if number > after]
        return f"/stack/{(behind or waiting)[0]}" if waiting else "/stack"

    def _group(self, request: Request) -> Group:
        number: int = request.path_params["number"]
        groups = self._review.groups
        if not 1 <= number <= len(groups):
            raise HTTPException(404, stack_words.NO_SUCH_DISC)
        return groups[number - 1]
