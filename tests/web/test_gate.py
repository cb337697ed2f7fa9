"""Who and what is turned away."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from discscan.photo import PhotoLimits
from discscan.report import screen_words
from discscan.web import WebLimits

HERE = "http://127.0.0.1:8037"
ORIGIN = {"Origin": HERE}
TOKEN = "the-token-of-this-test"


def picture(shade: int, format: str = "PNG") -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (300, 260), (shade, shade, shade)).save(buffer, format)
    return buffer.getvalue()


def bomb(side_px: int) -> bytes:
    """A PNG whose header promises a huge picture, in a few bytes (PNG, ISO/IEC 15948, 11.2.2)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", side_px, side_px, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


# -- names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8037", "127.0.0.1.evil.example", "127.0.0.1@evil.example", "", "[", "127.0.0.1/x"],
)
def test_a_name_that_is_not_ours_is_turned_away(stall: Any, host: str) -> None:
    """As a page elsewhere would have whose name was made to point here."""
    assert stall.client.get("/", headers={"Host": host}).status_code == 421
    assert stall.client.post("/photos", headers={"Host": host, "Origin": f"http://{host}"}).status_code == 421


def test_our_own_names_are_let_in(stall: Any) -> None:
    for host in ("127.0.0.1:8037", "localhost:8037", "LOCALHOST"):
        assert stall.client.get("/", headers={"Host": host}).status_code == 200


# -- the token --------------------------------------------------------------------------------------------------------


def test_this_machine_needs_no_token_and_every_other_does(stall: Any) -> None:
    assert stall.client.get("/").status_code == 200
    phone = stall.from_elsewhere()
    for path in ("/", "/worth", "/site.css", "/photos/abc", "/photos/abc/marks.jpg"):
        assert phone.get(path).status_code == 401, path
    sent = phone.post("/photos", files=[("photo", ("a.png", picture(9)))], headers=ORIGIN)
    assert sent.status_code == 401
    assert list(stall.folder.iterdir()) == []


@pytest.mark.parametrize("given", ["", "wrong", TOKEN + "x", TOKEN[:-1], "\u00e4"])
def test_a_wrong_token_opens_nothing(stall: Any, given: str) -> None:
    phone = stall.from_elsewhere()
    assert phone.get("/", params={"token": given}).status_code == 401
    assert phone.get("/", headers={"Cookie": f"discscan={given}".encode()}).status_code == 401


def test_the_first_link_carries_the_token_and_a_cookie_does_from_then_on(stall: Any) -> None:
    phone = stall.from_elsewhere()
    first = phone.get("/", params={"token": TOKEN}, follow_redirects=False)
    assert first.status_code == 303 and first.headers["location"] == "/"
    assert "httponly" in first.headers["set-cookie"].lower() and "samesite=lax" in first.headers["set-cookie"].lower()
    page = phone.get("/")
    assert page.status_code == 200 and TOKEN not in page.text
    assert phone.post("/photos", files=[("photo", ("a.png", picture(9)))], headers=ORIGIN).status_code == 200


def test_nobody_may_say_for_another_whence_he_comes(stall: Any) -> None:
    phone = stall.from_elsewhere()
    for header in ("X-Forwarded-For", "X-Real-IP", "Forwarded"):
        assert phone.get("/", headers={header: "127.0.0.1"}).status_code == 401


# -- origins ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://127.0.0.1", "http://127.0.0.1:8038", "ftp://127.0.0.1:8037"]
)
def test_a_write_from_another_page_is_refused(stall: Any, origin: str | None) -> None:
    assert stall.send(picture(9), origin=origin).status_code == 403
    headers = {"Origin": origin} if origin else {}
    assert stall.client.post("/photos/abc/format", data={"format": "cd"}, headers=headers).status_code == 403
    assert list(stall.folder.iterdir()) == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(stall: Any, method: str) -> None:
    assert stall.client.request(method, "/photos", headers=ORIGIN).status_code == 405


# -- what is sent -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["../../../evil.png", "/etc/passwd", "..\\..\\evil.png", "a\x00.png", "x" * 5000])
def test_a_files_name_is_never_used(stall: Any, tmp_path: Path, name: str) -> None:
    before = {file for file in tmp_path.rglob("*") if file.is_file()}
    answer = stall.send(picture(70), name=name)
    assert answer.status_code in (200, 400)
    assert "evil" not in answer.text and "passwd" not in answer.text
    new = {file for file in tmp_path.rglob("*") if file.is_file()} - before
    for file in new:
        assert file.parent == stall.folder
        assert len(file.name) == 64 and set(file.name) <= set("0123456789abcdef")


@pytest.mark.parametrize(
    "path",
    [
        "/photos/..%2f..%2f..%2fetc%2fpasswd",
        "/photos/%2e%2e/%2e%2e/etc/passwd",
        "/photos/..%2f/marks.jpg",
        "/photos/../site.css/../../etc/passwd",
        "/static/../app.py",
        "/photos/abc/from-above-99999999999999999999.jpg",
        "/private",
    ],
)
def test_no_path_is_made_of_what_a_client_writes(stall: Any, path: str) -> None:
    assert stall.client.get(path).status_code == 404


def test_originals_are_not_served(stall: Any) -> None:
    stall.send(picture(70))
    (original,) = stall.folder.iterdir()
    for path in (f"/{original.name}", f"/private/{original.name}", f"/photos/{original.name}/original"):
        assert stall.client.get(path).status_code == 404


def test_what_is_no_picture_is_refused_at_once(stall: Any) -> None:
    answer = stall.send(b"Dear Quay Street Exchange, here is no picture.")
    assert answer.status_code == 415
    assert "This is not a picture that can be read." in answer.text
    assert list(stall.folder.iterdir()) == [] and stall.judge.asked == []


def test_of_several_the_good_ones_are_taken(stall: Any) -> None:
    answer = stall.send(picture(10), b"no picture", picture(20))
    assert answer.status_code == 415 and "Not taken" in answer.text
    assert len(list(stall.folder.iterdir())) == 2


@pytest.mark.parametrize("side_px", [9_000, 20_000, 60_000])
def test_a_picture_of_too_many_pixels_is_refused_before_it_is_decoded(stall: Any, side_px: int) -> None:
    answer = stall.send(bomb(side_px))
    assert answer.status_code == 413
    assert "megapixels" in answer.text and "--max" not in answer.text
    assert list(stall.folder.iterdir()) == [] and stall.judge.asked == []


def test_a_file_of_too_many_bytes_is_refused(serve: Callable[..., Any]) -> None:
    stall = serve(limits=WebLimits(photo=PhotoLimits(max_megabytes=0.01)))
    answer = stall.send(picture(10, "BMP"))
    assert answer.status_code == 413 and "larger than 0.01 megabytes" in answer.text
    assert list(stall.folder.iterdir()) == []


def test_a_body_that_is_too_large_is_refused_also_when_it_does_not_say_so(serve: Callable[..., Any]) -> None:
    stall = serve(limits=WebLimits(upload_megabytes=0.05, form_kilobytes=1))
    assert stall.send(bytes(60_000)).status_code == 413

    def endless() -> Iterator[bytes]:
        yield b'--line\r\nContent-Disposition: form-data; name="photo"; filename="a"\r\n\r\n'
        for _ in range(1000):
            yield bytes(1000)

    headers = {**ORIGIN, "Content-Type": "multipart/form-data; boundary=line"}
    assert stall.client.post("/photos", content=endless(), headers=headers).status_code == 413
    assert stall.client.post("/photos/x/format", data={"format": "c" * 2000}, headers=ORIGIN).status_code == 413


@pytest.mark.parametrize("body", [b"", b"--line", b"--line\r\n\r\n\r\n--line--", bytes(100)])
def test_a_broken_form_is_refused_in_words(stall: Any, body: bytes) -> None:
    headers = {**ORIGIN, "Content-Type": "multipart/form-data; boundary=line"}
    answer = stall.client.post("/photos", content=body, headers=headers)
    assert 400 <= answer.status_code < 500


def test_too_many_parts_are_refused(stall: Any) -> None:
    assert stall.send(*[picture(shade) for shade in range(25)]).status_code == 400
    assert list(stall.folder.iterdir()) == []


def test_an_empty_form_is_told(stall: Any) -> None:
    answer = stall.client.post("/photos", files=[("photo", ("", b""))], headers=ORIGIN)
    assert answer.status_code == 422 and screen_words.NONE_SENT in answer.text


def test_a_full_queue_asks_to_come_back_and_takes_nothing_by_halves(serve: Callable[..., Any]) -> None:
    stall = serve(limits=WebLimits(waiting=2, retry_after_s=7))
    stall.judge.gate.clear()
    stall.send(picture(1))
    stall.send(picture(2))
    refused = stall.send(picture(3), picture(4), picture(5))
    assert refused.status_code == 503 and refused.headers["retry-after"] == "7"
    assert screen_words.QUEUE_FULL in refused.text
    assert len(list(stall.folder.iterdir())) == 2
    assert stall.send(picture(1)).status_code == 200  # it is here already, and needs no place
    assert stall.client.get("/").status_code == 200


def test_old_answers_are_forgotten_with_their_photos(serve: Callable[..., Any]) -> None:
    stall = serve(limits=WebLimits(kept=3))
    urls = []
    for shade in range(6):
        urls.append(stall.send(picture(shade)).url.path)
        assert stall.until_done(urls[-1]).status_code == 200
    assert len(list(stall.folder.iterdir())) == 3
    assert [stall.client.get(url).status_code for url in urls] == [404, 404, 404, 200, 200, 200]


# -- what is answered -------------------------------------------------------------------------------------------------


def test_every_answer_carries_the_policies(stall: Any) -> None:
    client: TestClient = stall.client
    answers = [
        client.get("/"), client.get("/site.css"), client.get("/nowhere"), client.get("/", headers={"Host": "x"}),
        stall.send(picture(3)), stall.from_elsewhere().get("/"),
    ]  # fmt: skip
    for answer in answers:
        policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
        assert policy["default-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == policy["img-src"] == policy["form-action"] == "'self'"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "server" not in answer.headers
    assert client.get("/").headers["cache-control"] == "no-store"


def test_our_own_forms_tell_their_origin(stall: Any) -> None:
    """With the policy no-referrer a browser would send "Origin: null" (Fetch standard, 3.2, from memory)."""
    assert stall.client.get("/").headers["referrer-policy"] == "same-origin"
