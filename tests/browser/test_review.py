"""Going through a stack with the keyboard, and with a thumb."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from discscan.stack import Review


def test_the_keyboard_agrees_corrects_and_takes_back(open_page: Callable[..., Page], site: Any) -> None:
    page, review = open_page("/stack/1", (1280, 900)), Review(site.stack)
    first, second, third = review.groups
    page.keyboard.press("a")
    expect(page).to_have_url(re.compile("/stack/2$"))
    page.wait_for_load_state()  # no key is heard before
    page.keyboard.press("s")
    expect(page).to_have_url(re.compile("/stack/3$"))
    page.wait_for_load_state()  # no key is heard before
    standing = review.standing()
    assert (standing[first.key].action, standing[first.key].agreed) == (first.action, True)
    assert (standing[second.key].action, standing[second.key].agreed) == ("play", second.action == "play")
    page.keyboard.press("u")
    expect(page).to_have_url(re.compile("/stack/2"))
    page.wait_for_load_state()  # no key is heard before
    expect(page.get_by_role("status")).to_have_text("Taken back.")
    assert set(review.standing()) == {first.key}
    page.keyboard.press("j")
    expect(page).to_have_url(re.compile("/stack/3$"))
    page.wait_for_load_state()  # no key is heard before
    page.keyboard.press("k")
    expect(page).to_have_url(re.compile("/stack/2$"))
    page.wait_for_load_state()  # no key is heard before
    assert third.key not in review.standing()


def test_a_key_typed_into_a_title_presses_nothing_and_keys_can_be_switched_off(
    open_page: Callable[..., Page], site: Any
) -> None:
    page = open_page("/stack/1", (1280, 900))
    page.get_by_label("Title").press_sequentially("as pure")
    expect(page).to_have_url(re.compile("/stack/1$"))
    page.get_by_role("button", name="Keys").click()
    page.keyboard.press("a")
    page.reload()
    page.keyboard.press("a")
    expect(page).to_have_url(re.compile("/stack/1$"))
    assert Review(site.stack).standing() == {}


def test_what_is_decided_goes_into_the_ledger_in_one_go_and_twice_is_once(
    open_page: Callable[..., Page], size: tuple[int, int], site: Any
) -> None:
    page = open_page("/stack", size)
    page.get_by_role("link", name="Go through them").click()
    page.get_by_label("Title").fill("Norwegian in Thirty Lessons")
    page.get_by_role("button", name="Agree").click()
    page.get_by_role("button", name="Retake").click()
    page.get_by_role("button", name="Sell").click()
    expect(page).to_have_url(re.compile("/stack$"))
    page.get_by_label("Paid for each").fill("0.50")
    page.get_by_role("button", name="Write them down").click()
    expect(page.get_by_role("status")).to_have_text("2 discs are in the ledger now.")
    page.get_by_role("button", name="Write them down").click()
    expect(page.get_by_role("status")).to_contain_text("No disc is decided that is not in the ledger already.")
    items = site.shelf.items()
    assert [item.title for item in items] == ["Norwegian in Thirty Lessons", "trays 3"]
    assert [[event.kind for event in item.events] for item in items] == [["bought", "scanned"]] * 2
    page.goto(f"{site.address}/ledger/{items[0].number}/listing")
    expect(page.get_by_role("textbox")).to_have_value(re.compile("Norwegian in Thirty Lessons"))
