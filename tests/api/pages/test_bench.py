"""The bench from pairing to verdict, on a phone over plain HTTP, with the network that a workshop has."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from .conftest import OpenShop
from .shop_browser import (
    ENOUGH_MS,
    NAME,
    PHONE,
    add_artwork,
    listed,
    pair,
    pairing_address,
    take_photo,
    verdict_of,
    watched_page,
)
from .weak_network import WeakNetwork, weak_network

Piece = tuple[Path, Path]

STAGES = """() => {
  window.told = [];
  const state = document.getElementById("state");
  new MutationObserver(() => told.push(state.textContent)).observe(state, { childList: true });
}"""
"""Remember all that the bench says of a photo."""


NO_TRYING_AGAIN = """
const inTime = setTimeout;
window.setTimeout = (work, time) => (time >= 2000 && time < 30000 ? 0 : inTime(work, time));
"""
"""Let no timer try again, so that only an event can."""


SLOW = 2_500_000
"""Bytes a second of a slow network, in the measure of `large`."""


@pytest.fixture(scope="module")
def large(piece: Piece, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a photo with a short film appended, as phones do: more than a machine's buffers swallow."""
    photo = tmp_path_factory.mktemp("large") / "large.jpg"
    photo.write_bytes(piece[0].read_bytes() + np.random.default_rng(1).bytes(7_000_000))
    return photo


@contextmanager
def phone_over(network: WeakNetwork, browser: Browser, shop: OpenShop) -> Iterator[Page]:
    """Open the bench on the paired phone over a network; cookies do not tell ports apart."""
    context = browser.new_context(**PHONE, storage_state=shop.phone)
    with watched_page(context) as phone:
        phone.goto(f"http://{NAME}:{network.port}/")
        yield phone
    context.close()


def wait_for_part_of_the_photo(phone: Page) -> None:
    """Wait until some of the photo was sent, and not all."""
    sent = phone.wait_for_function(
        "() => { const sent = document.getElementById('sent').value; return sent > 5 && sent }"
    )
    assert sent.json_value() < 95


def test_a_phone_is_paired_by_a_code_and_hears_the_verdict(
    browser: Browser, shop: OpenShop, owner: Page, piece: Piece
) -> None:
    address = pairing_address(owner, shop.running)
    drawn = owner.locator("svg.code").screenshot()
    picture = cv2.imdecode(np.frombuffer(drawn, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == address
    context = browser.new_context(**PHONE, base_url=shop.url)
    with watched_page(context) as phone:
        pair(phone, address)
        assert phone.evaluate("() => [isSecureContext, 'mediaDevices' in navigator]") == [False, False]
        phone.evaluate(STAGES)
        take_photo(phone, piece[0])
        verdict = verdict_of(phone, "coaster.jpg")
        expect(verdict.get_by_role("heading")).to_have_text("Good")
        expect(verdict.locator(".verdict-head svg")).to_be_visible()
        expect(phone.get_by_role("status")).to_have_text(
            re.compile(r"^The verdict: Good, (\d\d|more than 99) % sure$")
        )
        expect(phone.get_by_role("heading", name="What to do next")).to_be_visible()
        shown = phone.get_by_alt_text("The piece as measured from the photo")
        shown.scroll_into_view_if_needed()
        phone.wait_for_function("picture => picture.naturalWidth > 100", arg=shown.element_handle())
        told = phone.evaluate("() => told")
        assert told[0] == "The photo is being kept on this phone"
        assert len(set(told)) >= 5, told  # kept, sent, at least two stages, verdict
        phone.goto(address)
        phone.reload()
        phone.get_by_label("Code from the owner's page").fill(address.partition("#")[2])
        phone.get_by_role("button", name="Pair").click()
        expect(phone.get_by_role("alert")).to_contain_text("cannot be used")  # a code is good for one phone
    context.close()


def test_the_bench_remembers_what_was_chosen_last(owner: Page, phone: Page, piece: Piece) -> None:
    owner.goto("/artworks")
    owner.get_by_label("Name").fill("Another")
    owner.get_by_label("File", exact=True).set_input_files(piece[1])
    owner.get_by_role("button", name="Add it").click()
    phone.reload()
    assert phone.get_by_label("Artwork").evaluate("list => list.selectedOptions[0].text") == "Another"
    phone.get_by_label("Artwork").select_option(label="Coaster")
    phone.reload()
    assert phone.get_by_label("Artwork").evaluate("list => list.selectedOptions[0].text") == "Coaster"


def test_photos_that_a_phone_names_all_alike_are_told_apart_by_their_time(phone: Page, piece: Piece) -> None:
    take_photo(phone, piece[0], name="image.jpg")
    names = phone.locator("#verdict .names")
    names.wait_for(timeout=ENOUGH_MS)
    assert re.search(r"Photo: photo-\d\d-\d\d-\d\d\.jpg", names.inner_text())


def test_what_is_chosen_before_the_scripts_have_come_is_not_lost(
    owner: Page, shop: OpenShop, phone: Page, piece: Piece
) -> None:
    add_artwork(owner, shop.running, "Birds", piece[1])
    phone.reload()
    phone.get_by_label("Artwork").select_option(label="Birds")  # what the bench remembers
    scripts: list[Route] = []
    phone.route("**/bench.js*", lambda route: scripts.append(route))  # noqa: PLW0108 (playwright marks it)
    phone.reload(wait_until="commit")
    take_photo(phone, piece[0], name="early.jpg")
    scripts[0].continue_()
    verdict = verdict_of(phone, "early.jpg")
    expect(verdict.locator(".names")).to_contain_text("Artwork: Coaster")
    phone.unroute_all()


def test_over_a_slow_network_a_second_photo_waits_for_the_first(
    browser: Browser, shop: OpenShop, large: Path
) -> None:
    with weak_network(shop.running.port, SLOW) as network, phone_over(network, browser, shop) as phone:
        take_photo(phone, large, name="slow-1.jpg")
        wait_for_part_of_the_photo(phone)
        take_photo(phone, large, name="slow-2.jpg")
        verdict_of(phone, "slow-1.jpg")
        verdict_of(phone, "slow-2.jpg")


def test_a_network_that_fails_in_the_middle_loses_no_photo_and_doubles_none(
    browser: Browser, shop: OpenShop, owner: Page, large: Path
) -> None:
    with weak_network(shop.running.port, SLOW) as network, phone_over(network, browser, shop) as phone:
        take_photo(phone, large, name="broken-off.jpg")
        wait_for_part_of_the_photo(phone)
        network.break_off()
        expect(phone.get_by_role("status")).to_contain_text("It is tried again")
        expect(phone.get_by_role("list", name="Photos that wait")).to_contain_text("broken-off.jpg")
        expect(phone.get_by_text("if you close the page, open it again")).to_be_visible()
        network.come_back()
        verdict_of(phone, "broken-off.jpg")
        expect(phone.get_by_role("list", name="Photos that wait")).to_be_hidden()
        assert listed(owner, "broken-off") == 1


def test_a_photo_is_sent_at_once_when_the_phone_is_told_that_the_network_is_back(
    browser: Browser, shop: OpenShop, piece: Piece
) -> None:
    context = browser.new_context(**PHONE, base_url=shop.url, storage_state=shop.phone)
    context.add_init_script(NO_TRYING_AGAIN)
    with watched_page(context) as phone:
        phone.goto("/")
        context.set_offline(True)
        take_photo(phone, piece[0], name="offline.jpg")
        expect(phone.get_by_role("status")).to_contain_text("at once when the network is back")
        context.set_offline(False)
        verdict_of(phone, "offline.jpg")
    context.close()


def test_a_page_that_was_closed_sends_its_photo_when_it_is_opened_again(
    browser: Browser, shop: OpenShop, owner: Page, piece: Piece
) -> None:
    with weak_network(shop.running.port) as network, phone_over(network, browser, shop) as phone:
        network.break_off()
        take_photo(phone, piece[0], name="closed.jpg")
        expect(phone.get_by_role("status")).to_contain_text("It is tried again")
        phone.close()
        network.come_back()
        assert listed(owner, "closed") == 0
        with watched_page(phone.context) as opened_again:
            opened_again.goto(f"http://{NAME}:{network.port}/")
            verdict_of(opened_again, "closed.jpg")
        assert listed(owner, "closed") == 1


def test_a_photo_whose_answer_was_lost_is_sent_again_as_the_same_inspection(
    phone: Page, owner: Page, piece: Piece
) -> None:
    phone.evaluate(
        """() => {
          const send = XMLHttpRequest.prototype.send;
          XMLHttpRequest.prototype.send = function (body) {
            XMLHttpRequest.prototype.send = send;
            this.onload = () => this.onerror(); // the server has it, the phone does not know
            send.call(this, body);
          };
        }"""
    )
    take_photo(phone, piece[0], name="answer-lost.jpg")
    expect(phone.get_by_role("status")).to_contain_text("It is tried again")
    assert listed(owner, "answer-lost") == 1
    verdict_of(phone, "answer-lost.jpg")
    assert listed(owner, "answer-lost") == 1


def test_a_stream_that_never_says_a_word_does_not_keep_the_verdict_from_the_phone(
    phone: Page, piece: Piece
) -> None:
    phone.route("**/events", lambda _: None)  # as when the network died without a word: never answered
    take_photo(phone, piece[0], name="silent.jpg")
    verdict_of(phone, "silent.jpg")
    phone.unroute_all(behavior="ignoreErrors")


def test_a_photo_that_is_refused_is_not_tried_again_and_the_reason_is_told(
    phone: Page, tmp_path: Path
) -> None:
    no_picture = tmp_path / "words.jpg"
    no_picture.write_text("these are words", encoding="utf-8")
    take_photo(phone, no_picture)
    expect(phone.get_by_role("status")).to_contain_text("words.jpg was refused")
    expect(phone.get_by_role("status")).to_contain_text("JPEG")
    expect(phone.get_by_role("list", name="Photos that wait")).to_be_hidden()


def test_a_photo_outlives_the_right_of_its_phone(
    browser: Browser, shop: OpenShop, owner: Page, piece: Piece
) -> None:
    """A revoked phone keeps what it has not sent, and sends it once it is paired again."""
    context = browser.new_context(**PHONE, base_url=shop.url)
    with watched_page(context) as phone:
        pair(phone, pairing_address(owner, shop.running))
        owner.goto("/devices")
        owner.get_by_role("button", name="Revoke").first.click()  # the newest device stands first
        take_photo(phone, piece[0], name="revoked.jpg")
        phone.wait_for_url("**/pair")
        pair(phone, pairing_address(owner, shop.running))
        verdict_of(phone, "revoked.jpg")
    context.close()


def test_a_secure_page_offers_a_viewfinder_with_a_frame(
    browser: Browser, shop: OpenShop, owner: Page
) -> None:
    """Loopback counts as secure. Chromium's made-up camera shows neither card nor piece."""
    secure = f"http://127.0.0.1:{shop.running.port}"
    context = browser.new_context(**PHONE, base_url=secure)
    with watched_page(context, "127.0.0.1") as phone:
        pair(phone, pairing_address(owner, shop.running).replace(shop.url, secure))
        phone.get_by_label("Artwork").select_option(label="Coaster")
        phone.get_by_role("button", name="Open the viewfinder").click()
        expect(phone.get_by_text("Card and piece inside this frame")).to_be_visible()
        phone.wait_for_function("() => document.querySelector('video').videoWidth > 0")
        phone.get_by_role("button", name="Take the photo now").click()
        expect(verdict_of(phone, "bench-").get_by_role("heading")).to_have_text("Retake the photo")
    context.close()


def test_without_scripts_a_photo_is_sent_by_the_form(browser: Browser, shop: OpenShop, piece: Piece) -> None:
    context = browser.new_context(
        **PHONE, base_url=shop.url, storage_state=shop.phone, java_script_enabled=False
    )
    phone = context.new_page()
    phone.goto("/")
    phone.get_by_label("Artwork").select_option(label="Coaster")
    phone.locator("#photo").set_input_files(piece[0])
    phone.get_by_role("button", name="Send the photo").click()
    expect(phone.get_by_role("heading", name="coaster.jpg")).to_be_visible()
    for _ in range(ENOUGH_MS // 500):
        if phone.get_by_role("heading", name="Good", exact=True).count():
            break
        phone.wait_for_timeout(500)
        phone.reload()
    expect(phone.get_by_role("heading", name="Good", exact=True)).to_be_visible()
    context.close()
