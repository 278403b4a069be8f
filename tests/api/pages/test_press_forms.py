"""A shop that lives in the browser: log and batches begun by forms, on a small phone, without scripts."""

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from .conftest import OpenShop
from .shop_browser import PHONE, watched_page
from .test_every_page import OF_COLOUR, OVERFLOW, SMALL_TARGETS, violations

SMALL: dict[str, Any] = {**PHONE, "viewport": {"width": 320, "height": 640}}


def opened(page: Page, words: str) -> None:
    """Open one of the forms of the press log."""
    page.goto("/press")
    page.get_by_text(words, exact=True).click()


@pytest.fixture(scope="module")
def begun(browser: Browser, shop: OpenShop) -> str:
    """Begin a log and a batch by forms alone; return the batch's address."""
    context = browser.new_context(
        **SMALL, base_url=shop.url, storage_state=shop.owner, java_script_enabled=False
    )
    with watched_page(context) as page:
        opened(page, "Add a press")
        page.get_by_label("Name").locator("visible=true").fill("By the window")
        page.get_by_label("Never set above").fill("210C")
        page.get_by_role("button", name="Add the press").click()
        opened(page, "Add a kind of blank")
        page.get_by_label("Name").locator("visible=true").fill("Coaster, glass")
        page.get_by_label("Made of").select_option("glass")
        page.get_by_label("Coated").select_option("back")
        page.get_by_label("Thickness").fill("4")
        page.get_by_label("Supplier's temperature").fill("380F")
        page.get_by_label("Supplier's time").fill("60s")
        page.get_by_role("button", name="Add the blank").click()
        opened(page, "Add a recipe")
        page.get_by_label("Name").locator("visible=true").fill("Coasters")
        page.get_by_label("Temperature").locator("visible=true").fill("380F")
        page.get_by_label("Time", exact=True).locator("visible=true").fill("60s")
        page.get_by_role("button", name="Add the recipe").click()
        opened(page, "Log a pressing")
        page.get_by_label("What you say of the piece").select_option("under-pressed")
        page.get_by_label("Who says so").fill("Kim")
        page.get_by_role("button", name="Log it").click()
        expect(page.get_by_text("under-pressed by Kim")).to_be_visible()
        address = started(page)
    context.close()
    return address


def started(page: Page) -> str:
    """Start a batch of the shop's artwork; return its address."""
    page.goto("/batches")
    page.get_by_label("Name").fill("In May")
    page.get_by_label("Recipe").select_option("Coasters")
    page.get_by_label("Artwork").select_option("Coaster")
    page.get_by_label("Pieces there are to be").fill("40")
    page.get_by_role("button", name="Start it").click()
    expect(page.get_by_role("heading", name="Batch In May: started")).to_be_visible()
    return page.url


def each_page(browser: Browser, shop: OpenShop, begun: str, **options: Any) -> Iterator[Page]:
    """Yield the pages of press log and batches: as they are, with every form open, and with a slip."""
    context = browser.new_context(**{**SMALL, **options}, base_url=shop.url, storage_state=shop.owner)
    with watched_page(context) as page:
        for address in ("/batches", begun, "/press/plan?blank=Coaster,+glass&press=By+the+window"):
            page.goto(address)
            yield page
        page.goto("/press")
        for form in page.locator("details > summary").all():
            form.click()
        yield page
        slip(page)
        yield page
    context.close()


def slip(page: Page) -> None:
    """Add a press with a temperature that presses do not usually work at."""
    opened(page, "Add a press")
    page.get_by_label("Name").locator("visible=true").fill("Cool")
    page.get_by_label("Never set above").fill("110C")
    page.get_by_role("button", name="Add the press").click()
    expect(page.get_by_role("heading", name="Not kept yet")).to_be_visible()


def test_pages_of_press_and_batches_are_read_by_all(browser: Browser, shop: OpenShop, begun: str) -> None:
    troubles = []
    for page in each_page(browser, shop, begun):
        troubles += violations(page)
        troubles += [str((page.url, each)) for each in page.evaluate(SMALL_TARGETS)]
        if page.evaluate(OVERFLOW):
            troubles.append(f"{page.url} is wider than 320 px")
        page.set_viewport_size({"width": 390, "height": 844})
        page.evaluate("() => { document.documentElement.style.fontSize = '200%' }")
        if page.evaluate(OVERFLOW):
            troubles.append(f"{page.url} is too wide with large text")
        page.set_viewport_size(SMALL["viewport"])
    assert troubles == []


def test_their_colours_are_strong_enough_in_the_dark(browser: Browser, shop: OpenShop, begun: str) -> None:
    pages = each_page(browser, shop, begun, color_scheme="dark")
    assert [trouble for page in pages for trouble in violations(page, *OF_COLOUR)] == []


@pytest.mark.usefixtures("begun")
def test_a_slip_is_asked_about_with_the_form_still_filled_in(owner: Page) -> None:
    slip(owner)
    form = owner.locator("#add-press")
    expect(form.get_by_label("Never set above")).to_have_value("110C")
    form.get_by_label("Take the temperature as it is written").check()
    form.get_by_role("button", name="Add the press").click()
    expect(owner.get_by_text("Press Cool, never above 110 °C (230 °F)")).to_be_visible()


@pytest.mark.usefixtures("begun")
def test_the_bench_offers_the_batch_that_was_started(phone: Page) -> None:
    phone.reload()
    expect(phone.locator("#batch")).to_contain_text("In May")
