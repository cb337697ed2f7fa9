"""The routes: each reads a request, asks a room, and hands the answer to a template."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from datetime import date
from importlib.resources import files
from typing import cast, get_args

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from discscan.errors import DiscscanError, UnreadablePhoto
from discscan.money import parse_money
from discscan.records import FormatName, Given
from discscan.report import screen_words
from discscan.report.forecasts import document_of, forecast_of
from discscan.stack import Review
from discscan.web.desk import Desk, Job, QueueFull
from discscan.web.entries import TITLE
from discscan.web.finds import finds_routes
from discscan.web.forms import Field, Worth, read, read_worth
from discscan.web.learning import learning_routes
from discscan.web.ledger import ledger_routes
from discscan.web.limits import DEFAULT, WebLimits
from discscan.web.pages import Pages
from discscan.web.review import review_routes
from discscan.web.shelf import Shelf

PAID = Field("amount", "Paid for it", "when you have bought it", parse_money)

STATUS: Mapping[str, int] = {
    "too-large": 413, "not-a-photo": 415, "took-too-long": 504, "no-such-item": 404, "out-of-order": 409,
    "unusable-book": 500,
}  # fmt: skip
"""The one table from an error's code to a status; every other is a 422."""

STATIC: Mapping[str, str] = {"wait.js": "text/javascript", "review.js": "text/javascript", "icon.svg": "image/svg+xml"}
KEEP: Mapping[str, str] = {"Cache-Control": "private, max-age=600"}


def build_app(
    desk: Desk,
    *,
    shelf: Shelf,
    stack: Review | None = None,
    address: str | None = None,
    limits: WebLimits = DEFAULT,
) -> Starlette:
    """The app, without its gate.

    Args:
        stack: to go through, or None.
        address: the link for a phone, token included, shown as a square code; None where no phone can come in.
    """
    pages = Pages(address=address, with_stack=stack is not None)
    routes = _Routes(desk, shelf, pages, limits)
    more = [*ledger_routes(shelf, pages), *finds_routes(desk, pages), *learning_routes(shelf, pages)]
    if stack is not None:
        more += review_routes(stack, shelf, pages)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        desk.start()
        yield
        desk.close()

    return Starlette(
        routes=[
            Route("/", routes.home),
            Route("/photos", routes.receive, methods=["POST"]),
            Route("/photos", lambda _: RedirectResponse("/", 303)),  # the address bar after a refusal, entered again
            Route("/photos/{key}", routes.photo),
            Route("/photos/{key}/state", routes.state),
            Route("/photos/{key}/format", routes.correct, methods=["POST"]),
            Route("/photos/{key}/marks.jpg", routes.marks),
            Route("/photos/{key}/from-above-{number:int}.jpg", routes.from_above),
            Route("/photos/{key}/disc-{number:int}/ledger", routes.keep, methods=["POST"]),
            Route("/worth", routes.worth),
            *more,
            Route("/site.css", routes.css),
            *(Route(f"/{name}", _static(name, media_type)) for name, media_type in STATIC.items()),
        ],
        exception_handlers={HTTPException: routes.refuse, DiscscanError: routes.explain},  # type: ignore[dict-item]
        lifespan=lifespan,
    )


class _Routes:
    def __init__(self, desk: Desk, shelf: Shelf, pages: Pages, limits: WebLimits) -> None:
        self._desk, self._shelf, self._pages, self._limits = desk, shelf, pages, limits

    async def home(self, request: Request) -> Response:
        return self._pages.show("home.html", jobs=self._desk.all())

    async def receive(self, request: Request) -> Response:
        """Photos, from the form; their names are never looked at."""
        async with request.form(max_files=self._limits.photos_at_once, max_fields=4) as form:
            together, more_of = form.get("together") == "yes", str(form.get("more_of") or "")
            lamp = form.get("lamp") == "yes"
            sent = [one for one in form.getlist("photo") if isinstance(one, UploadFile) and one.size]
            if any((one.size or 0) > self._limits.photo.max_megabytes * 1_000_000 for one in sent):
                raise HTTPException(413, screen_words.too_heavy(self._limits.photo.max_megabytes))
            photos = [await one.read() for one in sent]
        if not photos:
            raise HTTPException(422, screen_words.NONE_SENT)
        if lamp and self._desk.find(more_of) is None:
            raise HTTPException(404, screen_words.UNKNOWN_PHOTO)
        try:
            jobs, refused = await run_in_threadpool(
                lambda: self._desk.take(photos, together=together, more_of=more_of, lamp=lamp)
            )
        except QueueFull:
            raise self._full() from None
        if refused:
            return self._pages.show("home.html", _status(refused[0]), jobs=self._desk.all(), refused=refused)
        return RedirectResponse(f"/photos/{jobs[0].key}" if len(jobs) == 1 else "/#received", 303)

    async def photo(self, request: Request) -> Response:
        job = self._job(request)
        if job.state != "done":
            return self._pages.show("waiting.html", job=job)
        assert job.entry is not None
        error = job.entry.photo.error
        status = 200 if error is None else STATUS.get(error.code, 422)
        return self._pages.show(
            "photo.html",
            status,
            job=job,
            worths=_worths(job, request.query_params),
            prices=_prices(request),
            paid=PAID,
        )

    async def keep(self, request: Request) -> Response:
        """A judged disc into the ledger: a new item, or one more scan of an item that is there."""
        job, number = self._job(request), request.path_params["number"]
        form = await request.form(max_files=0, max_fields=4)
        filled = read((TITLE, PAID), form)
        if job.entry is None or not 1 <= number <= len(job.entry.photo.discs):
            raise HTTPException(404, screen_words.UNKNOWN_PHOTO)
        if filled.wrong:
            raise HTTPException(422, screen_words.TITLE_AND_PRICE)
        document = document_of(job.entry.photo, number)
        told = filled.told
        photos = self._desk.originals(job.key)
        item = await run_in_threadpool(
            lambda: self._shelf.keep_scan(told["what"], document, photos, paid=told.get("amount"), day=date.today())
        )
        return RedirectResponse(f"/ledger/{item.number}?done=written", 303)

    async def state(self, request: Request) -> Response:
        job = self._job(request)
        said = screen_words.JUDGING if job.state == "working" else screen_words.waiting(job.ahead)
        return JSONResponse({"done": job.state == "done", "said": said})

    async def correct(self, request: Request) -> Response:
        form = await request.form(max_files=0, max_fields=4)
        named, polished = form.get("format"), str(form.get("polished") or "0")
        if named not in (*get_args(FormatName), "unknown") or polished not in screen_words.POLISHED:
            raise HTTPException(422, screen_words.NO_SUCH_ANSWER)
        given = Given(None if named == "unknown" else cast(FormatName, named), int(polished))
        job = self._job(request)
        try:
            self._desk.correct(job.key, given)
        except QueueFull:
            raise self._full() from None
        return RedirectResponse(f"/photos/{job.key}{_prices(request)}", 303)

    async def marks(self, request: Request) -> Response:
        entry = self._job(request).entry
        if entry is None or entry.marks is None:
            raise HTTPException(404, screen_words.UNKNOWN_PHOTO)
        return Response(entry.marks.jpeg, media_type="image/jpeg")

    async def from_above(self, request: Request) -> Response:
        entry, number = self._job(request).entry, request.path_params["number"]
        if entry is None or not 1 <= number <= len(entry.tops):
            raise HTTPException(404, screen_words.UNKNOWN_PHOTO)
        return Response(entry.tops[number - 1].jpeg, media_type="image/jpeg")

    async def worth(self, request: Request) -> Response:
        worth = read_worth(request.query_params)
        return self._pages.show("worth.html", 422 if worth.wrong else 200, worth=worth)

    async def css(self, request: Request) -> Response:
        return Response(self._pages.css, media_type="text/css", headers=KEEP)

    async def refuse(self, request: Request, error: HTTPException) -> Response:
        said = screen_words.NO_SUCH_PAGE if error.status_code == 404 and error.detail == "Not Found" else error.detail
        answer = self._pages.show("refused.html", error.status_code, said=said)
        answer.headers.update(error.headers or {})
        return answer

    async def explain(self, request: Request, error: DiscscanError) -> Response:
        """What the ledger or the reckoning refused, with what to do."""
        return self._pages.show("refused.html", STATUS.get(error.code, 422), said=screen_words.refused(error))

    def _job(self, request: Request) -> Job:
        """The photo named by the address: looked up among those that are here, never turned into a path."""
        job = self._desk.find(request.path_params["key"])
        if job is None:
            raise HTTPException(404, screen_words.UNKNOWN_PHOTO)
        return job

    def _full(self) -> HTTPException:
        return HTTPException(503, screen_words.QUEUE_FULL, {"Retry-After": str(self._limits.retry_after_s)})


def _static(name: str, media_type: str) -> Callable[[Request], Response]:
    """The route of one file that lies in the package."""
    content = files("discscan.web").joinpath("static", name).read_bytes()
    return lambda _: Response(content, media_type=media_type, headers=KEEP)


def _prices(request: Request) -> str:
    """The prices typed so far, to go with the next address; "" for none."""
    return f"?{request.url.query}" if request.url.query else ""


def _worths(job: Job, query: Mapping[str, str]) -> list[Worth | None]:
    """What each disc is worth: None without a forecast; the prices typed are those of the disc that they name."""
    assert job.entry is not None
    forecasts = [forecast_of(disc) for disc in job.entry.photo.discs]
    asked = query.get("disc", "1")
    return [
        None if one is None else read_worth(query if asked == str(number) else {}, one)
        for number, one in enumerate(forecasts, start=1)
    ]


def _status(error: UnreadablePhoto) -> int:
    return STATUS.get(error.code, 422)
