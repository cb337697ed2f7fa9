"""Who may come in, before any route sees the request: by host name, token, origin and size."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from hmac import compare_digest
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from discscan.web.limits import DEFAULT, WebLimits

COOKIE = "discscan"
UPLOAD_PATH = "/photos"

# same-origin, not no-referrer: with that, browsers send "Origin: null" with our own forms (Fetch, 3.2, from memory)
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Gate:
    """ASGI middleware.

    Args:
        hosts: names and addresses under which we are called, without port. A page elsewhere whose name was made to
            point here (rebinding) comes with its own name, and is turned away.
        token: needed by everyone but this machine itself; the first link carries it, then a cookie does.
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str], token: str, limits: WebLimits = DEFAULT) -> None:
        self._app, self._token, self._limits = app, token, limits
        self._hosts = {host.lower() for host in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # there are no websockets here
            await send({"type": "websocket.close", "code": 1008})
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        request = Request(scope)
        limit = self._body_limit(scope["path"])
        refusal = self._refusal(request, limit)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
        else:
            await self._app(scope, _counted(receive, limit), send_guarded)

    def _refusal(self, request: Request, body_limit: int) -> Response | None:
        if _name_of(request.headers.get("host", "")) not in self._hosts:
            return PlainTextResponse("This is not a name of this server.", 421)
        given = request.query_params.get("token")
        if given is not None and request.method == "GET":
            if not self._is_token(given):
                return _no_token()
            answer = RedirectResponse(request.url.path, 303)  # the token leaves the address bar, and its history
            answer.set_cookie(COOKIE, self._token, httponly=True, samesite="lax", max_age=7 * 24 * 3600)
            return answer
        if not _is_this_machine(request) and not self._is_token(request.cookies.get(COOKIE, "")):
            return _no_token()
        if request.method not in ("GET", "HEAD", "POST"):
            return PlainTextResponse("Not that way.", 405)
        if request.method == "POST" and not _is_same_origin(request.headers):
            return PlainTextResponse("This was sent from another page.", 403)
        length = request.headers.get("content-length", "0")
        if not length.isascii() or not length.isdigit():
            return PlainTextResponse("How long is it?", 400)
        if int(length) > body_limit:
            return PlainTextResponse("This is too much at once. Send fewer photos, or smaller ones.", 413)
        return None

    def _is_token(self, given: str) -> bool:
        return compare_digest(given.encode(), self._token.encode())

    def _body_limit(self, path: str) -> int:
        if path == UPLOAD_PATH:
            return int(self._limits.upload_megabytes * 1_000_000)
        return int(self._limits.form_kilobytes * 1000)


def _no_token() -> Response:
    return PlainTextResponse("Open the link that the program shows, or photograph its square code.", 401)


def _name_of(host: str) -> str:
    """A Host header without its port; "" for what is none."""
    try:
        return urlsplit(f"//{host}").hostname or "" if not set(host) & set("/?#@\\ ") else ""
    except ValueError:
        return ""


def _is_this_machine(request: Request) -> bool:
    try:
        return request.client is not None and ipaddress.ip_address(request.client.host).is_loopback
    except ValueError:
        return False


def _is_same_origin(headers: Headers) -> bool:
    origin = urlsplit(headers.get("origin", ""))
    return origin.scheme in ("http", "https") and origin.netloc.lower() == headers.get("host", "").lower()


def _counted(receive: Receive, limit: int) -> Receive:
    """`receive`, which stops a body that is longer than it said, or did not say."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > limit:
            raise HTTPException(413, "This is too much at once. Send fewer photos, or smaller ones.")
        return message

    return counted
