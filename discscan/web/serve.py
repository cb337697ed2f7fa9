"""`discscan serve` at work: where to listen, whom to let in, and the link that says so."""

from __future__ import annotations

import io
import secrets
import signal
import socket
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import segno
import uvicorn

from discscan.bench import Bench
from discscan.errors import CannotServe
from discscan.places import book_place
from discscan.stack import Review
from discscan.web.app import build_app
from discscan.web.desk import Desk
from discscan.web.gate import Gate
from discscan.web.limits import DEFAULT, WebLimits
from discscan.web.shelf import Shelf

LOCAL_NAMES = ("localhost", "127.0.0.1", "::1")
CONNECTIONS = 128


def serve(
    *,
    lan: bool,
    port: int,
    tell: Callable[[str], None],
    book: str | None = None,
    stack: Review | None = None,
    limits: WebLimits = DEFAULT,
) -> None:
    """Serve until Ctrl-C, or until told to end. Photos lie in a private folder that is gone afterwards.

    Args:
        lan: let other machines in, which need the token of the link.
        port: 0 for any that is free.
        tell: is given the address and its square code.
        book: the ledger to show and to write; None for the user's own.
        stack: to go through, or None.
    Raises:
        CannotServe: the port is taken or not ours.
    """
    listening = _listen("0.0.0.0" if lan else "127.0.0.1", port)
    token = secrets.token_urlsafe(16)
    here = _own_address() if lan else "127.0.0.1"
    link = f"http://{here}:{listening.getsockname()[1]}/"
    phone_link = f"{link}?token={token}" if lan else None
    hosts = {*LOCAL_NAMES, here, *(_own_names() if lan else ())}
    shelf = Shelf(book_place(book))
    bench = Bench(limits=limits.photo, seconds=limits.seconds_per_photo, learned=shelf.in_use)
    _end_in_good_order()
    with TemporaryDirectory(prefix="discscan-") as folder:  # mkdtemp: nobody else may look into it
        desk = Desk(Path(folder), bench, limits=limits)
        app = build_app(desk, shelf=shelf, stack=stack, address=phone_link, limits=limits)
        gated = Gate(app, hosts=hosts, token=token, limits=limits)
        config = uvicorn.Config(
            gated, log_level="warning", access_log=False, server_header=False, lifespan="on",
            proxy_headers=False,  # nobody may say for another whence a request comes
            limit_concurrency=CONNECTIONS, timeout_keep_alive=20, timeout_graceful_shutdown=3, ws="none",
        )  # fmt: skip
        tell(_invitation(phone_link or link, with_code=lan))
        try:
            uvicorn.Server(config).run(sockets=[listening])
        except KeyboardInterrupt:  # uvicorn has ended in good order, and passes it on
            pass
        finally:
            bench.close()


def _end_in_good_order() -> None:
    """Asked to end by the system, or by a terminal that closes, clear the photos away as after Ctrl-C."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # uvicorn ends, and then passes it on to this
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, lambda *_: signal.raise_signal(signal.SIGTERM))


def _listen(address: str, port: int) -> socket.socket:
    try:
        return socket.create_server((address, port))
    except (OSError, OverflowError) as error:
        raise CannotServe(
            f"Nothing can be served at port {port}: {getattr(error, 'strerror', None) or error}.",
            remedy="Name another with --port.",
        ) from error


def _own_address() -> str:
    """This machine's address on its network. Connecting a datagram socket sends nothing; it only picks a route."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for examples (RFC 5737)
            return str(probe.getsockname()[0])
        except OSError:  # no route anywhere: a network without a way out, or none
            pass
    try:
        return socket.gethostbyname(socket.gethostname())
    except OSError:
        return "127.0.0.1"


def _own_names() -> tuple[str, str]:
    name = socket.gethostname()
    return name, f"{name}.local"


def _invitation(link: str, *, with_code: bool) -> str:
    lines = [f"Open {link}"]
    if with_code:
        code = io.StringIO()
        segno.make(link, error="m").terminal(out=code, compact=True)
        lines += [
            "Or photograph this code with the phone, in the same network.",
            "Who has the link can send photos, and sees and writes your ledger.",
            code.getvalue().rstrip("\n"),
        ]
    return "\n".join([*lines, "Ctrl-C ends it.", ""])
