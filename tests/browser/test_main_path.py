"""What a person does on a phone and at a desk, with and without a script."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry, words

ANOTHER = Path(__file__).parents[2] / "demo_images/clean_language_course_cd.jpg"
Send = Callable[[Page], None]


def test_a_photo_sent_by_form_comes_back_with_its_verdict(
    open_page: Callable[..., Page], send: Send, size: tuple[int, int], judged: PageEntry
) -> None:
    page = open_page("/", size)
    send(page)
    (disc,) = judged.photo.discs
    expect(page.get_by_role("heading", level=1)).to_have_text(words.VERDICT[disc.verdict.action])
    expect(page.get_by_text(words.deciding_reason(disc)).first).to_be_visible()
    photo = page.get_by_role("img", name=re.compile("outlined and damage marked"))
    expect(photo).to_be_visible()
    assert photo.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0


def test_each_mark_leads_to_its_row_and_back(open_page: Callable[..., Page], send: Send, size: tuple[int, int]) -> None:
    page = open_page("/", size)
    send(page)
    page.locator("#disc1-mark1").dispatch_event("click")
    expect(page).to_have_url(re.compile("#disc1-row1$"))
    row = page.locator("#disc1-row1")
    expect(row).to_be_in_viewport()
    plain = page.locator("#disc1-row2").evaluate("row => getComputedStyle(row).backgroundColor")
    assert row.evaluate("row => getComputedStyle(row).backgroundColor") != plain
    row.get_by_role("link", name="Show mark 1").click()
    expect(page).to_have_url(re.compile("#disc1-mark1$"))
    line = page.locator("#disc1-mark1 .line").evaluate("line => getComputedStyle(line).stroke")
    assert line != page.locator("#disc1-mark2 .line").evaluate("line => getComputedStyle(line).stroke")


def test_a_mark_can_be_pressed_where_it_lies(open_page: Callable[..., Page], send: Send) -> None:
    """The nearest to a finger: a real click at the middle of its line."""
    page = open_page("/", (1280, 900))
    send(page)
    page.locator("#disc1-mark1").scroll_into_view_if_needed()
    x, y = page.evaluate(
        """() => { const path = document.querySelector('#disc1-mark1 .reach');
        const at = path.getPointAtLength(path.getTotalLength() / 2).matrixTransform(path.getScreenCTM());
        return [at.x, at.y]; }"""
    )
    page.mouse.click(x, y)
    expect(page).to_have_url(re.compile(r"#disc1-row\d+$"))


def test_another_photo_of_the_disc_is_taken_with_the_first(
    open_page: Callable[..., Page], send: Send, size: tuple[int, int], site: Any
) -> None:
    page = open_page("/", size)
    send(page)
    page.get_by_label("Photograph it again").set_input_files(ANOTHER)
    page.get_by_role("button", name="Take them as one").click()
    expect(page.get_by_text("Photo 2", exact=True)).to_be_visible()
    expect(page.locator(".verdict")).to_be_visible()
    assert [names for names, _ in site.asked] == ["Photo 1", "Photo 2a, Photo 2b"]


def test_a_photo_against_a_lamp_is_added_to_the_disc(
    open_page: Callable[..., Page], send: Send, size: tuple[int, int], site: Any
) -> None:
    page = open_page("/", size)
    send(page)
    page.get_by_text("Hold it against a lamp").click()
    expect(page.get_by_text("Never use the sun", exact=False)).to_be_visible()
    page.get_by_label("Photograph it before the lamp").set_input_files(ANOTHER)
    page.get_by_role("button", name="Look for holes").click()
    expect(page.get_by_text("Photo 2", exact=True)).to_be_visible()
    expect(page.locator(".verdict")).to_be_visible()
    assert [names for names, _ in site.asked] == ["Photo 1", "Photo 2a, lamp Photo 2b"]


def test_format_and_price_are_corrected_and_the_answer_follows(
    open_page: Callable[..., Page], send: Send, size: tuple[int, int], site: Any
) -> None:
    page = open_page("/", size)
    send(page)
    page.get_by_label("Sells for, when it plays").fill("15")
    page.get_by_role("button", name="Reckon the most to pay").click()
    expect(page.get_by_text("The most to pay:").first).to_be_visible()
    page.get_by_label("BD", exact=True).check()
    page.get_by_label("Once").check()
    page.get_by_role("button", name="Judge it as that").click()
    expect(page.get_by_label("BD", exact=True)).to_be_checked()
    expect(page.get_by_label("Sells for, when it plays")).to_have_value("15")
    expect(page.get_by_text("The most to pay:").first).to_be_visible()
    assert site.asked == [("Photo 1", NOTHING_SAID), ("Photo 1", Given("bd", polished=1))]


def test_all_of_it_goes_without_a_script(open_page: Callable[..., Page], send: Send, size: tuple[int, int]) -> None:
    page = open_page("/", size, java_script_enabled=False)
    send(page)
    expect(page.locator(".verdict")).to_be_visible()  # the page that waits looks again by itself
    page.locator("#disc1-row1").get_by_role("link", name="Show mark 1").click()
    expect(page).to_have_url(re.compile("#disc1-mark1$"))
    page.get_by_label("Title").fill("Harbour Songs")
    page.get_by_role("button", name="Write it into the ledger").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Harbour Songs")
    page.get_by_role("button", name=re.compile(r"Take it back.*scanned")).click()
    expect(page.get_by_role("status")).to_have_text("Taken back.")
    page.goto(page.url.replace(re.sub(r"^\w+://[^/]+", "", page.url), "/stack"))
    page.get_by_role("link", name="Go through them").click()
    page.get_by_role("button", name="Agree").click()
    expect(page.get_by_text("1 of 3 discs decided.")).to_be_visible()


def test_the_ledger_adds_corrects_takes_back_finds_and_exports(
    open_page: Callable[..., Page], size: tuple[int, int]
) -> None:
    page = open_page("/ledger", size)
    page.get_by_text("Bought", exact=True).click()
    form = page.locator("details[open] form")
    form.get_by_label("Title").fill("The Last Ferry")
    form.get_by_label("Paid").fill("one fifty")
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("is no amount of money").first).to_be_visible()
    form = page.locator("details[open] form")
    expect(form.get_by_label("Title")).to_have_value("The Last Ferry")
    form.get_by_label("Paid").fill("1,50")
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status")).to_have_text("Written.")

    page.locator("summary", has_text="bought on").click()
    page.locator("details[open]").get_by_label("Paid").fill("2.50")
    page.locator("details[open]").get_by_role("button", name="Correct it").click()
    expect(page.get_by_text("2.50").first).to_be_visible()
    expect(page.get_by_text("1.50")).to_have_count(0)

    page.get_by_text("Sold", exact=True).click()
    page.locator("details[open]").get_by_label("Sold for").fill("12")
    page.locator("details[open]").get_by_role("button", name="Write it down").click()
    expect(page.locator("summary", has_text=re.compile("^Sold$"))).to_have_count(0)
    expect(page.locator("summary", has_text="Sent back by the buyer")).to_be_visible()
    page.get_by_role("button", name=re.compile(r"Take it back.*sold")).click()
    expect(page.locator("summary", has_text=re.compile("^Sold$"))).to_be_visible()

    page.get_by_role("link", name="Ledger", exact=True).first.click()
    page.get_by_label("Find an item").fill("ferry")
    page.get_by_role("button", name="Find").click()
    expect(page.locator(".jobs").get_by_role("link")).to_have_count(1)
    with page.expect_download() as download:
        page.get_by_role("link", name="All of it as a table (CSV)").click()
    assert download.value.suggested_filename == "ledger.csv"
    assert "The Last Ferry" in Path(download.value.path()).read_text()


def test_a_judged_disc_is_in_the_basket_with_its_chances(
    open_page: Callable[..., Page], send: Send, size: tuple[int, int]
) -> None:
    page = open_page("/", size)
    send(page)
    expect(page.locator(".verdict")).to_be_visible()
    page.get_by_role("link", name="Basket").click()
    find = page.locator("fieldset.find").first
    find.get_by_label("What it is").fill("Harbour Songs")
    find.get_by_label("Sells for, when it plays").fill("40")
    find.get_by_label("Its price now").fill("1")
    page.get_by_label("Cash at hand").fill("10")
    page.get_by_role("button", name="Choose").click()
    expect(page.locator(".worth .lead")).to_contain_text("TAKE 1 of 1")
    expect(page.locator(".worth")).to_contain_text("Harbour Songs")


def test_learning_is_asked_for_told_and_forgotten(open_page: Callable[..., Page], size: tuple[int, int]) -> None:
    page = open_page("/learning", size)
    page.get_by_role("button", name="Learn from the ledger now").click()
    expect(page.get_by_text("too few to tell").first).to_be_visible()
    page.get_by_role("button", name="Forget it").click()
    expect(page.get_by_text("Nothing was learned yet.")).to_be_visible()


@pytest.fixture(autouse=True)
def nothing_from_elsewhere(browser: Any, site: Any) -> Any:
    """Every request of these tests goes to the site itself."""
    asked: list[str] = []
    new_context = browser.new_context

    def watched(**settings: Any) -> Any:
        context = new_context(**settings)
        context.on("request", lambda request: asked.append(request.url))
        return context

    browser.new_context = watched
    yield
    browser.new_context = new_context
    assert asked and all(url.startswith(site.address) for url in asked)
