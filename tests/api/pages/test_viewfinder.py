"""The viewfinder while somebody aims, with a made-up camera that films a made scene."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PIL import Image, ImageOps
from playwright.sync_api import Browser, BrowserContext, Page, Request, Route, expect

from inspected_scenes import piece_scene
from scenes.render import render, write_photo
from scenes.scene import GlareBlob, Scene

from .conftest import OpenShop
from .shop_browser import PHONE, launched, watched_page

GLANCES = "**/api/v1/glances*"

LAMP = GlareBlob(30.0, 30.0, 16.0, 16.0, 0.0, 3.0)
"""A lamp mirrored in the piece, three times as bright as white paper."""

SAID = """() => {
  window.said = [];
  const place = document.querySelector(".aim");
  new MutationObserver(() => said.push(place.textContent)).observe(place, { childList: true });
}"""
"""Remember all that the viewfinder says; each change is one that a screen reader reads out."""


def film(scene: Scene, file: Path) -> Path:
    """Write a film in which a scene stands still, as a camera of 1200 × 900 pixels shows it."""
    photo = file.with_suffix(".jpg")
    write_photo(photo, render(scene, 1))
    with Image.open(photo) as picture:
        still = ImageOps.exif_transpose(picture).convert("RGB")
    stream = io.BytesIO()
    still.save(stream, "JPEG", quality=95, subsampling="4:2:0")
    file.write_bytes(stream.getvalue() * 2)
    return file


@contextmanager
def aiming(scene: Scene, browser: Browser, shop: OpenShop, folder: Path) -> Iterator[Page]:
    """Open the viewfinder of a paired phone whose camera films a scene; loopback counts as secure."""
    source = film(scene, folder / "film.mjpeg")
    with launched(browser.browser_type, f"--use-file-for-fake-video-capture={source}") as filming:
        context = filming.new_context(**PHONE, base_url=f"http://127.0.0.1:{shop.running.port}")
        carry_over(context, shop)
        with watched_page(context, "127.0.0.1") as phone:
            phone.goto("/")
            phone.get_by_role("button", name="Open the viewfinder").click()
            phone.wait_for_function("() => document.querySelector('video')?.videoWidth > 0")
            yield phone
        context.close()


def carry_over(context: BrowserContext, shop: OpenShop) -> None:
    """Let the loopback address have the paired phone's cookie."""
    [cookie] = [each for each in shop.phone["cookies"] if each["name"] == "dyecast_device"]
    context.add_cookies([{"name": cookie["name"], "value": cookie["value"], "url": "http://127.0.0.1"}])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("films")


def test_a_card_in_the_frame_is_told_once_and_glances_stop_at_the_shutter(
    browser: Browser, shop: OpenShop, folder: Path
) -> None:
    with aiming(piece_scene(), browser, shop, folder) as phone:
        asked: list[Request] = []
        phone.on("request", lambda request: asked.append(request) if "glances" in request.url else None)
        place = phone.locator(".aim")
        expect(place).to_have_text("The card is found. Take the photo.")
        expect(place).to_have_attribute("aria-live", "polite")
        expect(place.locator("svg")).to_be_visible()
        phone.evaluate(SAID)
        with phone.expect_request(GLANCES), phone.expect_request(GLANCES):
            phone.wait_for_timeout(2_500)
        assert phone.evaluate("() => said") == []  # words that have not changed are not said again
        assert "photo_long_side=1200" in asked[-1].url
        phone.evaluate("() => scrollTo(0, document.querySelector('.frame').offsetTop)")
        sent: list[Route] = []
        # With a verdict the page looks again, so the upload is held; playwright marks what it is given.
        phone.route("**/api/v1/inspections*", lambda route: sent.append(route))  # noqa: PLW0108
        phone.get_by_role("button", name="Take the photo now").click()
        expect(place).to_have_text("")
        phone.wait_for_timeout(300)  # what was asked just before the shutter is heard of a little later
        count = len(asked)
        phone.wait_for_timeout(1_500)
        assert len(asked) == count
        for upload in sent:
            upload.abort()


def test_glare_is_told_with_its_place_and_another_shape(
    browser: Browser, shop: OpenShop, folder: Path
) -> None:
    with aiming(piece_scene(glare=(LAMP,)), browser, shop, folder) as phone:
        place = phone.locator(".aim")
        expect(place).to_contain_text("Glare at the")
        expect(place).to_contain_text("of the frame: turn the piece")
        assert place.get_attribute("data-signal") == "caution"


def test_never_two_glances_at_a_time_and_none_while_the_page_is_hidden(
    browser: Browser, shop: OpenShop, folder: Path
) -> None:
    with aiming(piece_scene(), browser, shop, folder) as phone:
        under_way, most = 0, 0

        def late(route: Route) -> None:
            nonlocal under_way, most
            under_way += 1
            most = max(most, under_way)
            phone.wait_for_timeout(1_500)
            under_way -= 1
            route.fulfill(status=503, json={"code": "store-unavailable"})

        phone.route(GLANCES, late)
        expect(phone.locator(".aim")).to_contain_text("Not checked while you aim")
        assert most == 1
        phone.evaluate(
            """() => {
              Object.defineProperty(document, "hidden", { value: true });
              document.dispatchEvent(new Event("visibilitychange"));
            }"""
        )
        expect(phone.locator(".aim")).to_have_text("")
