"""What holds of every page: it is read by all, on any screen, and with the keyboard alone (WCAG 2.2 AA)."""

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import insert, select

from dyecast_api.store.database import open_database, writing
from dyecast_api.store.inspection_tables import inspections

from .conftest import OpenShop
from .shop_browser import PHONE, take_photo, verdict_of, watched_page

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")

RUN = "rules => axe.run(rules.length ? {runOnly: {type: 'rule', values: rules}} : {})"

OF_COLOUR = ("color-contrast", "link-in-text-block")

OWNERS = ("/", "/inspections", "/artworks", "/artworks/1", "/devices", "/card", "/settings", "/no-such-page")
ANYBODYS = ("/sign-in", "/pair")

SMALL_TARGETS = """() => {
  const wanted = "button, select, textarea, input:not([type=hidden]), nav a, .more";
  return [...document.querySelectorAll(wanted)].map((element) => {
    const box = (element.closest("label.tick, .choices label, .shutter") || element).getBoundingClientRect();
    return [element.outerHTML.slice(0, 80), Math.round(Math.min(box.width, box.height))];
  }).filter(([, side]) => side > 0 && side < 44);
}"""
"""What is pressed by a thumb and smaller than 44 px."""

OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"

Scheme = Literal["light", "dark"]


@pytest.fixture(scope="module")
def inspected(browser: Browser, shop: OpenShop, piece: tuple[Path, Path]) -> str:
    """Return the address of a finished inspection that a person judged otherwise."""
    context = browser.new_context(**PHONE, base_url=shop.url, storage_state=shop.phone)
    phone = context.new_page()
    phone.goto("/")
    take_photo(phone, piece[0], name="every-page.jpg")
    verdict_of(phone, "every-page.jpg")
    phone.get_by_role("link", name="All of this inspection").click()
    phone.get_by_label("Over-pressed").check()
    phone.get_by_label("Because").fill("The white of the border is yellow.")
    phone.get_by_label("Your name").fill("Kim")
    phone.get_by_role("button", name="Keep it beside the verdict").click()
    expect(phone.get_by_role("heading", name="A person says: Over-pressed")).to_be_visible()
    expect(phone.get_by_role("heading", name="Good", exact=True)).to_be_visible()  # the machine's word stays
    address = phone.evaluate("() => location.pathname")
    context.close()
    return str(address)


def each_page(browser: Browser, shop: OpenShop, inspected: str, scheme: Scheme = "light") -> Iterator[Page]:
    """Yield the pages one after another, each as it is when it was just opened."""
    options: dict[str, Any] = {**PHONE, "base_url": shop.url, "color_scheme": scheme}
    owners = browser.new_context(**options, storage_state=shop.owner)
    with watched_page(owners) as page:
        for address in (*OWNERS, inspected):
            page.goto(address)
            yield page
        page.goto("/devices")
        page.get_by_role("button", name="Make a token").click()
        yield page
        page.get_by_role("button", name="Show a code").click()
        yield page
    owners.close()
    anybodys = browser.new_context(**options)
    with watched_page(anybodys) as page:
        for address in ANYBODYS:
            page.goto(address)
            yield page
    anybodys.close()


def violations(page: Page, *rules: str) -> list[str]:
    """Return what axe-core finds, by these rules or by all it has, each with its first place."""
    page.evaluate(AXE)
    found = page.evaluate(RUN, list(rules))["violations"]
    return [f"{page.url} {each['id']}: {each['help']} {each['nodes'][0]['html'][:200]}" for each in found]


def test_axe_finds_nothing(browser: Browser, shop: OpenShop, inspected: str) -> None:
    pages = each_page(browser, shop, inspected)
    assert [trouble for page in pages for trouble in violations(page)] == []


def test_axe_finds_no_faint_colour_in_the_dark(browser: Browser, shop: OpenShop, inspected: str) -> None:
    """Colours are all that differs in a dark scheme."""
    pages = each_page(browser, shop, inspected, "dark")
    assert [trouble for page in pages for trouble in violations(page, *OF_COLOUR)] == []


def test_axe_finds_a_picture_without_words_and_words_too_faint(phone: Page) -> None:
    phone.evaluate("() => document.querySelector('main').append(new Image(9, 9))")
    assert "image-alt" in str(violations(phone))
    phone.evaluate("() => { document.querySelector('h1').style.color = '#ccc' }")
    assert "color-contrast" in str(violations(phone, *OF_COLOUR))


def test_pages_fit_narrow_screens_large_text_and_thumbs(
    browser: Browser, shop: OpenShop, inspected: str
) -> None:
    """WCAG 2.2, 1.4.10: 320 px wide; 1.4.4: text of 200 %; 2.5.5: targets of 44 px."""
    troubles = []
    for page in each_page(browser, shop, inspected):
        small = page.evaluate(SMALL_TARGETS)
        page.set_viewport_size({"width": 320, "height": 640})
        narrow = page.evaluate(OVERFLOW)
        page.set_viewport_size({"width": 390, "height": 844})
        page.evaluate("() => { document.documentElement.style.fontSize = '200%' }")
        large = page.evaluate(OVERFLOW)
        if small or narrow or large:
            troubles.append((page.url, small, narrow, large))
    assert troubles == []


def test_the_list_grows_by_itself_when_its_end_comes_near(
    owner: Page, shop: OpenShop, inspected: str
) -> None:
    columns = [column for column in inspections.c if column.name not in {"id", "public_id"}]
    engine = open_database(shop.running.database)
    with writing(engine) as connection:
        like = inspections.c.public_id == inspected.rpartition("/")[2]
        row = dict(connection.execute(select(*columns).where(like)).mappings().one())
        row |= {"idempotency_key": None, "photo_name": "many.jpg"}
        connection.execute(insert(inspections), [{**row, "public_id": f"many{n:028}"} for n in range(70)])
    engine.dispose()
    owner.goto("/inspections?search=many")
    lines = owner.locator("#lines > li")
    assert lines.count() >= 30
    for _ in range(20):
        owner.mouse.wheel(0, 4000)
        owner.wait_for_timeout(100)
    expect(lines).to_have_count(70)
    expect(owner.get_by_role("link", name="Show older ones")).to_have_count(0)
    expect(owner.locator("#list-state")).to_have_text("70 inspections are shown")


def focused(page: Page) -> str:
    """Return what the keyboard is at: its name or its words, and whether that is seen."""
    told = page.evaluate(
        """() => {
          const element = document.activeElement;
          const style = getComputedStyle(element.closest(".shutter") || element);
          const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
          return [element.name || element.textContent.trim(), seen];
        }"""
    )
    name, seen = told
    assert seen, f"the focus at {name} is not seen"
    return str(name)


def test_the_bench_is_used_with_the_keyboard_alone(phone: Page, piece: tuple[Path, Path]) -> None:
    phone.on("filechooser", lambda _: None)  # asked for early: playwright does not wait until it is heard
    seen = []
    for _ in range(12):
        phone.keyboard.press("Tab")
        seen.append(focused(phone))
        if seen[-1] == "photo":
            break
    assert seen[0] == "Skip to the content"
    assert [name for name in seen if name in {"artwork", "paper", "peek", "photo"}] == [
        "artwork",
        "paper",
        "peek",
        "photo",
    ]
    with phone.expect_file_chooser() as chosen:
        phone.keyboard.press("Enter")
    chosen.value.set_files(piece[0])
    verdict_of(phone, "coaster.jpg")


def test_the_wipe_between_piece_and_artwork_is_moved_by_keys(phone: Page, inspected: str) -> None:
    phone.goto(inspected)
    piece = phone.locator(".wipe .upper")
    wipe = phone.get_by_label("Move the line")
    expect(piece).to_have_css("clip-path", "inset(0px 50% 0px 0px)")
    wipe.press("Home")
    expect(piece).to_have_css("clip-path", "inset(0px 100% 0px 0px)")
    wipe.press("End")
    expect(piece).to_have_css("clip-path", "inset(0px 0% 0px 0px)")


def test_without_scripts_piece_and_artwork_stand_beside_each_other(
    browser: Browser, shop: OpenShop, inspected: str
) -> None:
    context = browser.new_context(
        **PHONE, base_url=shop.url, storage_state=shop.phone, java_script_enabled=False
    )
    page = context.new_page()
    page.goto(inspected)
    piece, artwork = (page.get_by_alt_text(words).bounding_box() for words in ("as measured", "should look"))
    assert piece is not None
    assert artwork is not None
    assert piece["x"] >= artwork["x"] + artwork["width"]
    expect(page.get_by_label("Move the line")).to_be_hidden()
    context.close()
