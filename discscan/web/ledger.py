"""The ledger's pages: add, correct, take back, search, export."""

from __future__ import annotations

from datetime import date

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from discscan.events import Item, Kind
from discscan.report import screen_words
from discscan.report.listing import listing
from discscan.web.entries import FORMS, STARTS, TITLE, read_entry, typed_of
from discscan.web.forms import Filled, read
from discscan.web.pages import Pages
from discscan.web.shelf import Shelf

MAX_FIELDS = 16
SHOWN = 100
"""So many items stand on the page; the others are found by searching."""
EXPORTS = {"csv": "text/csv; charset=utf-8", "json": "application/json"}


def ledger_routes(shelf: Shelf, pages: Pages) -> list[Route]:
    screens = _Ledger(shelf, pages)
    return [
        Route("/ledger", screens.all),
        Route("/ledger", screens.begin, methods=["POST"]),
        Route("/ledger/export.{shape}", screens.export),
        Route("/ledger/{number:int}", screens.item),
        Route("/ledger/{number:int}", screens.go_on, methods=["POST"]),
        Route("/ledger/{number:int}/listing", screens.listing),
        Route("/ledger/events/{number:int}", screens.correct, methods=["POST"]),
        Route("/ledger/events/{number:int}/undo", screens.undo, methods=["POST"]),
    ]


class _Ledger:
    def __init__(self, shelf: Shelf, pages: Pages) -> None:
        self._shelf, self._pages = shelf, pages

    async def all(self, request: Request) -> Response:
        query = request.query_params
        return await self._show_all(text=query.get("q", "").strip(), done=query.get("done"))

    async def begin(self, request: Request) -> Response:
        """A new item, found or bought."""
        form = await request.form(max_files=0, max_fields=MAX_FIELDS)
        kind = _kind(form.get("kind"), of=STARTS)
        named, entry = read([TITLE], form), read_entry(kind, form)
        filled = Filled({**entry.typed, **named.typed}, {**entry.wrong, **named.wrong}, entry.told)
        if filled.wrong:
            return await self._show_all(status=422, filled={kind: filled})
        return await self._write(kind, named.told["what"], filled)

    async def item(self, request: Request) -> Response:
        item = await run_in_threadpool(self._shelf.item, request.path_params["number"])
        return self._show_item(item, done=request.query_params.get("done"))

    async def go_on(self, request: Request) -> Response:
        """One event more of an item."""
        form = await request.form(max_files=0, max_fields=MAX_FIELDS)
        kind, number = _kind(form.get("kind"), of=tuple(FORMS)), request.path_params["number"]
        filled = read_entry(kind, form)
        if filled.wrong:
            item = await run_in_threadpool(self._shelf.item, number)
            return self._show_item(item, status=422, filled={kind: filled})
        return await self._write(kind, str(number), filled)

    async def correct(self, request: Request) -> Response:
        form = await request.form(max_files=0, max_fields=MAX_FIELDS)
        number = request.path_params["number"]
        item, event = await run_in_threadpool(self._shelf.event, number)
        if event.kind not in FORMS:
            raise HTTPException(422, screen_words.NOT_CORRECTED)
        filled = read_entry(event.kind, form)
        if filled.wrong:
            return self._show_item(item, status=422, corrected={event.number: filled})
        blank = {"amount": None, "fees": None, "good": None, "source": "", "note": "", "barcode": ""}
        changes = {**{name: none for name, none in blank.items() if name in filled.typed}, **filled.told}
        item = await run_in_threadpool(lambda: self._shelf.correct(number, **changes))
        return RedirectResponse(f"/ledger/{item.number}?done=corrected", 303)

    async def undo(self, request: Request) -> Response:
        number = request.path_params["number"]
        item, _ = await run_in_threadpool(self._shelf.event, number)
        await run_in_threadpool(self._shelf.undo, number)
        gone = len(item.events) == 1
        return RedirectResponse("/ledger?done=undone" if gone else f"/ledger/{item.number}?done=undone", 303)

    async def export(self, request: Request) -> Response:
        shape = request.path_params["shape"]
        if shape not in EXPORTS:
            raise HTTPException(404)
        told = await run_in_threadpool(lambda: self._shelf.export(as_json=shape == "json"))
        name = {"Content-Disposition": f'attachment; filename="ledger.{shape}"'}
        return Response(told, media_type=EXPORTS[shape], headers=name)

    async def listing(self, request: Request) -> Response:
        item = await run_in_threadpool(self._shelf.item, request.path_params["number"])
        return self._pages.show("listing.html", item=item, text=listing(item))

    async def _write(self, kind: Kind, what: str, filled: Filled) -> Response:
        told = {"day": date.today(), **filled.told}
        item = await run_in_threadpool(lambda: self._shelf.write(kind, what=what, **told))
        return RedirectResponse(f"/ledger/{item.number}?done=written", 303)

    async def _show_all(
        self, *, status: int = 200, text: str = "", done: str | None = None, filled: dict[Kind, Filled] | None = None
    ) -> Response:
        items = await run_in_threadpool(self._shelf.items, text)
        newest = list(reversed(items))[:SHOWN]
        summary = await run_in_threadpool(self._shelf.summary)
        return self._pages.show(
            "ledger.html", status, items=newest, more=len(items) - len(newest), text=text, summary=summary,
            done=screen_words.DONE.get(done or ""), filled=filled or {},
        )  # fmt: skip

    def _show_item(
        self,
        item: Item,
        *,
        status: int = 200,
        done: str | None = None,
        filled: dict[Kind, Filled] | None = None,
        corrected: dict[int, Filled] | None = None,
    ) -> Response:
        typed = {event.number: typed_of(event) for event in item.events if event.kind in FORMS}
        return self._pages.show(
            "item.html", status, item=item, done=screen_words.DONE.get(done or ""), filled=filled or {},
            typed={**typed, **(corrected or {})}, mended=corrected or {}, next=self._shelf.may_follow(item, FORMS),
        )  # fmt: skip


def _kind(told: object, *, of: tuple[Kind, ...]) -> Kind:
    if told not in of:
        raise HTTPException(422, screen_words.NO_SUCH_KIND)
    return told
