"""The page: self-contained, without script, whole for a screen reader, readable in light and in dark."""

from __future__ import annotations

import re
from base64 import b64decode
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import cv2
import numpy as np
import pytest

from discscan.errors import BrokenPhoto
from discscan.judged import JudgedPhoto
from discscan.report import error_report, page_entry, photo_report, reasons, render_page, words
from discscan.report.page import PageEntry
from discscan.report.styles import PAGE_DARK, PAGE_LIGHT, VERDICT_COLOURS, VERDICT_STRIPES


class Seen(HTMLParser):
    """Tags with their attributes, in their order, and the text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data

    def every(self, attribute: str) -> list[str]:
        return [value for _, attributes in self.tags if (value := attributes.get(attribute)) is not None]


@pytest.fixture(scope="module")
def entries(
    good_photo: JudgedPhoto, bad_photo: JudgedPhoto, empty_photo: JudgedPhoto, stack_photo: JudgedPhoto
) -> list[PageEntry]:
    judged = [page_entry(photo, photo_report(photo)) for photo in (good_photo, bad_photo, empty_photo, stack_photo)]
    broken = BrokenPhoto("It ends too soon.", file="box 1/<half>.jpg", remedy="Copy it again.")
    return [judged[0], page_entry(None, error_report(broken)), *judged[1:]]


@pytest.fixture(scope="module")
def page(entries: list[PageEntry]) -> str:
    return render_page(entries)


@pytest.fixture(scope="module")
def seen(page: str) -> Seen:
    return Seen(page)


def test_the_page_loads_nothing_and_runs_nothing(page: str, seen: Seen) -> None:
    assert "http:" not in page
    assert "https:" not in page
    assert not {tag for tag, _ in seen.tags} & {"script", "link", "iframe", "object", "embed", "form"}
    assert not [name for _, attributes in seen.tags for name in attributes if name.startswith("on")]
    assert "url(" not in page
    assert "@import" not in page
    assert all(source.startswith("data:image/jpeg;base64,") for source in seen.every("src"))
    assert all(target.startswith("#") for target in seen.every("href"))


def test_every_link_and_every_shape_has_its_target(seen: Seen) -> None:
    names = seen.every("id")
    assert len(names) == len(set(names))
    wanted = {target[1:] for target in seen.every("href")} | set(seen.every("aria-labelledby"))
    assert wanted <= set(names)


def test_its_pictures_are_pictures_of_the_size_that_it_says(seen: Seen) -> None:
    images = [attributes for tag, attributes in seen.tags if tag == "img"]
    assert len(images) == 4 + 5  # photos read, and discs
    for image in images:
        source = (image["src"] or "").partition(",")[2]
        bgr = cv2.imdecode(np.frombuffer(b64decode(source), np.uint8), cv2.IMREAD_COLOR)
        assert bgr is not None
        assert (str(bgr.shape[1]), str(bgr.shape[0])) == (image["width"], image["height"])
        assert len(image["alt"] or "") > 20


def test_an_entry_holds_small_pictures_only(entries: list[PageEntry]) -> None:
    for entry in entries:
        assert sum(len(one.jpeg) for one in (entry.marks, *entry.tops) if one) < 700_000


def test_headings_skip_no_level_and_there_is_one_first_heading(seen: Seen) -> None:
    levels = [int(tag[1]) for tag, _ in seen.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_the_page_states_its_language_and_fits_a_phone(seen: Seen) -> None:
    assert next(attributes for tag, attributes in seen.tags if tag == "html")["lang"] == "en"
    metas = [attributes for tag, attributes in seen.tags if tag == "meta"]
    assert any("width=device-width" in (meta.get("content") or "") for meta in metas)


def test_every_disc_shows_its_verdict_its_reason_and_its_cautions(seen: Seen, entries: list[PageEntry]) -> None:
    text = " ".join(seen.text.split())
    for entry in entries:
        for disc in entry.photo.discs:
            assert words.VERDICT[disc.verdict.action] in text
            assert words.deciding_reason(disc) in text
            assert all(caution in text for caution in disc.verdict.cautions)
            assert all(doubt.remedy in text for doubt in disc.doubts)
    assert reasons.CAUTIONS["do-not-spin"] in text
    assert all(sentence in text for sentence in words.CANNOT_SEE)


def test_unreadable_photos_are_listed_with_what_to_do_and_names_are_escaped(seen: Seen, page: str) -> None:
    assert "box 1/<half>.jpg It ends too soon. Copy it again." in " ".join(seen.text.split())
    assert "<half>" not in page


def test_a_photo_without_a_disc_says_so_and_what_was_turned_down(seen: Seen) -> None:
    assert words.NO_DISC_REMEDY in seen.text
    assert "no hole at its centre" in seen.text


def test_a_cracked_disc_shows_its_caution_once_and_no_chance(bad_photo: JudgedPhoto) -> None:
    page = render_page([page_entry(bad_photo, photo_report(bad_photo))])
    text = Seen(page).text
    assert text.count(reasons.CAUTIONS["do-not-spin"]) == 1
    assert 'class="chance"' not in page


def test_no_template_field_is_left_blank(page: str) -> None:
    assert "None" not in Seen(page).text
    assert "{{" not in page
    assert "{%" not in page


def test_the_same_entries_give_the_same_page(entries: list[PageEntry], page: str) -> None:
    assert render_page(entries) == page


def test_a_page_of_nothing_is_still_a_page() -> None:
    assert "0 discs in 0 photos" in Seen(render_page([])).text


def test_a_name_with_letters_of_any_script_is_kept(good_photo: JudgedPhoto) -> None:
    renamed = replace(good_photo, photo=replace(good_photo.photo, name="böx/диск-é.jpg"))
    assert "böx/диск-é.jpg" in Seen(render_page([page_entry(renamed, photo_report(renamed))])).text


# -- contrast: W3C, WCAG 2.2, success criterion 1.4.3 (4.5 to 1 for letters), formula as in its definition -------------


def luminance(colour: str) -> float:
    shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_the_known_ends() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the well-known grey that just fails


@pytest.mark.parametrize("palette", [PAGE_LIGHT, PAGE_DARK], ids=["light", "dark"])
def test_letters_stand_out_from_every_ground_in_light_and_in_dark(palette: dict[str, str]) -> None:
    for ground in (palette["ground"], palette["card"]):
        for letters in ("ink", "quiet", "link"):
            assert contrast(palette[letters], ground) >= 4.5, letters
    assert contrast(palette["alarm"], palette["alarm-ground"]) >= 4.5


def test_white_letters_stand_out_from_verdicts_and_from_the_rings_behind_them() -> None:
    for colour in VERDICT_COLOURS.values():
        striped = [round(part + VERDICT_STRIPES * (255 - part)) for part in colour]
        for ground in (colour, striped):
            assert contrast("#ffffff", "#{:02x}{:02x}{:02x}".format(*ground)) >= 4.5


def test_both_schemes_name_the_same_colours() -> None:
    assert set(PAGE_LIGHT) == set(PAGE_DARK)
