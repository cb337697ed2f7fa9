"""What the pages are like: small, whole, readable, and usable without a script."""

from __future__ import annotations

import re
from collections.abc import Callable
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import pytest

from discscan.report import styles
from discscan.web import forms
from discscan.web.pages import square_code

PAGES = ("/", "/worth", "/worth?sells=15&chance=0.3&polish_fee=4&chance_polished=0.8", "/worth?sells=x", "/nowhere")
PHONE_LINK = "http://192.168.7.3:8037/?token=abcdefghijklmnopqrstuv"


class Elements(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.fixture
def pages(stall: Any, photo: bytes) -> dict[str, str]:
    url = str(stall.send(photo).url.path)
    stall.until_done(url)
    addresses = (*PAGES, url, f"{url}?sells=15&disc=1")
    return {address: stall.client.get(address).text for address in addresses}


def test_the_first_page_weighs_less_than_60_kb_with_all_that_it_loads(serve: Callable[..., Any]) -> None:
    stall = serve(address=PHONE_LINK)
    page = stall.client.get("/").text
    loaded = {str(value) for _, attrs in Elements(page).found for name, value in attrs.items() if name == "src"}
    loaded |= {str(attrs["href"]) for tag, attrs in Elements(page).found if tag == "link"}
    assert "/site.css" in loaded
    sizes = [len(page.encode())] + [len(stall.client.get(one).content) for one in loaded]
    assert sum(sizes) < 60_000


def test_nothing_comes_from_other_hosts_and_nothing_stands_against_the_policy(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        for tag, attrs in Elements(page).found:
            assert tag not in ("style", "iframe", "object", "embed"), address
            assert not any(name == "style" or name.startswith("on") for name in attrs), (address, tag)
            for name in ("src", "href", "action"):
                assert not re.match(r"[a-z]+:|//", attrs.get(name) or ""), (address, attrs)


def test_the_main_path_has_no_script_at_all(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        assert not [tag for tag, _ in Elements(page).found if tag == "script"], address


def test_the_photo_form_opens_the_camera_without_a_script(pages: dict[str, str]) -> None:
    elements = Elements(pages["/"]).found
    (camera,) = [attrs for tag, attrs in elements if tag == "input" and "capture" in attrs]
    assert camera["type"] == "file" and camera["accept"] == "image/*" and camera["capture"] == "environment"
    assert "multiple" in camera and camera["name"] == "photo"
    form = next(attrs for tag, attrs in elements if tag == "form")
    assert (form["method"], form["action"], form["enctype"]) == ("post", "/photos", "multipart/form-data")


def test_every_page_has_a_language_a_title_one_main_heading_and_labels(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        elements = Elements(page).found
        tags = [tag for tag, _ in elements]
        assert dict(elements)["html"] == {"lang": "en"}, address
        assert re.search(r"<title>[^<]+</title>", page), address
        assert tags.count("h1") == tags.count("main") == 1, address
        assert "user-scalable" not in page and "maximum-scale" not in page
        ids = [attrs["id"] for _, attrs in elements if "id" in attrs]
        assert len(ids) == len(set(ids)), address
        labelled = {attrs.get("for") for tag, attrs in elements if tag == "label"}
        for tag, attrs in elements:
            if tag == "input" and attrs.get("type") not in ("hidden", "radio"):
                assert attrs["id"] in labelled, (address, attrs)
            if tag == "img":
                assert attrs["alt"] and attrs["width"] and attrs["height"], address  # no layout jump
            target = attrs.get("href") or ""
            if target.startswith("#"):
                assert target[1:] in ids, (address, target)


def test_no_heading_skips_a_level(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        levels = [int(tag[1]) for tag, _ in Elements(page).found if re.fullmatch("h[1-6]", tag)]
        assert levels[0] == 1, address
        assert all(below <= above + 1 for above, below in pairwise(levels)), address


def test_every_verdict_has_its_word_and_its_shape_beside_its_colour(pages: dict[str, str]) -> None:
    for page in pages.values():
        for inside in re.findall(r'<span class="tag \w+">(.*?)</span>', page) + re.findall(
            r'<div class="verdict \w+">(.*?)</div>', page, re.DOTALL
        ):
            assert "<use href=" in inside and re.search(r"[A-Z][a-z]+", re.sub("<[^>]+>", "", inside))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (its definitions, "relative luminance"; from memory)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_reckoning_knows_its_ends() -> None:
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # a well-known near miss


def test_words_and_edges_stand_out_by_day_and_by_night(stall: Any) -> None:
    """WCAG 2.2, 1.4.3: 4.5 for text; 1.4.11: 3 for edges of inputs."""
    css = stall.client.get("/site.css").text
    light, dark = re.findall(r"--edge: (#\w{6});", css)
    for palette, edge in ((styles.PAGE_LIGHT, light), (styles.PAGE_DARK, dark)):
        for ground in ("ground", "card"):
            for ink in ("ink", "quiet", "link", "alarm"):
                assert contrast(palette[ink], palette[ground]) >= 4.5, (ink, ground)
            assert contrast(edge, palette[ground]) >= 3
        assert contrast(palette["alarm"], palette["alarm-ground"]) >= 4.5
    for colour in styles.VERDICT_COLOURS.values():
        assert contrast("#ffffff", styles.hex_colour(colour)) >= 4.5


def test_what_is_pressed_with_a_thumb_is_44_px_and_more(stall: Any) -> None:
    css = stall.client.get("/site.css").text
    for rule in ("button, .button, summary", ".bar a", ".to-mark", ".format label", ".jobs a"):
        sizes = re.findall(rf"(?m)^{re.escape(rule)} {{[^}}]*min-height: (\d+)px", css)
        assert sizes and all(int(size) >= 44 for size in sizes), rule


def test_the_square_code_reads_as_the_link() -> None:
    """OpenCV's reader, on the drawn paths of the SVG."""
    svg = square_code(PHONE_LINK)
    side = int(re.search(r'viewBox="0 0 (\d+)', svg).group(1))  # type: ignore[union-attr]
    (path,) = re.findall(r'<path[^>]* class="qrline"[^>]* d="([^"]+)"', svg)
    scale, x, y = 4, 0.0, 0.0
    picture = np.full((side, side), 255, np.uint8)
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(one) for one in re.findall(r"-?[\d.]+", numbers)]
        if command == "h":
            top, left, right = (round(scale * place) for place in (y - 0.5, x, x + values[0]))
            picture[top : top + scale, left:right] = 0
            x += values[0]
        else:
            x, y = values if command == "M" else (x + values[0], y + values[1])
    read, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert read == PHONE_LINK


def test_the_code_is_shown_where_a_phone_may_come_in_and_nowhere_else(serve: Callable[..., Any]) -> None:
    page = serve(address=PHONE_LINK).client.get("/").text
    assert 'class="segno"' in page and "--lan" not in page


def test_without_it_the_page_says_how_to_let_one_in(stall: Any) -> None:
    page = stall.client.get("/").text
    assert 'class="segno"' not in page and "discscan serve --lan" in page


def test_every_field_has_a_name_of_the_command_lines() -> None:
    from discscan.worth import Terms

    assert {one.name for one in forms.ALL} <= set(Terms.__dataclass_fields__)
