"""A shop's server as it is run, and browsers that reach it as a phone in the shop's network does.

Chromium is told that a made-up name stands for this machine: pages of `127.0.0.1` count as secure, and would
have a camera and more that a plain HTTP page of a shop does not have.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from PIL import Image
from playwright.sync_api import (
    Browser,
    BrowserContext,
    BrowserType,
    Locator,
    Page,
    TimeoutError,  # noqa: A004 (playwright's own)
    sync_playwright,
)

from inspected_scenes import piece_scene
from running_server import RunningServer
from scenes.render import render, write_photo
from servers.debian_programs import free_port, needed_program

NAME: Final = "bench.shop.example"

PHONE: Final[dict[str, Any]] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
}
"""A phone of usual size, held upright."""

ENOUGH_MS: Final = 100_000
"""How long an inspection may take on a busy machine before a test gives up."""


@dataclass(frozen=True, slots=True)
class RunningShop:
    """A server process: its address for browsers, its port, the owner's passphrase, its database."""

    url: str
    port: int
    passphrase: str
    database: str


@contextmanager
def running_shop(folder: Path, port: int | None = None) -> Iterator[RunningShop]:
    """Run `dyecast serve` with one worker in a folder, and stop it at the end."""
    server = RunningServer(folder, 1, port=port or free_port())
    server.start()
    database = f"sqlite:///{folder / 'data' / 'shop.sqlite3'}"
    try:
        yield RunningShop(f"http://{NAME}:{server.port}", server.port, server.passphrase, database)
    finally:
        server.stop()


@contextmanager
def watched_page(context: BrowserContext, host: str = NAME) -> Iterator[Page]:
    """Open a page; in the end nothing may have failed in it, broken its policy, or gone to another host."""
    page, troubles, hosts = context.new_page(), list[str](), set[str | None]()
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("console", lambda line: troubles.append(line.text) if "Security Policy" in line.text else None)
    page.on("request", lambda request: hosts.add(urlsplit(request.url).hostname))
    yield page
    assert troubles == []
    assert hosts <= {host, None}


@contextmanager
def running_browser() -> Iterator[Browser]:
    """Run Debian's Chromium; skip the test where there is none."""
    with sync_playwright() as playwright, launched(playwright.chromium) as browser:
        yield browser


@contextmanager
def launched(kind: BrowserType, *options: str) -> Iterator[Browser]:
    """Launch a browser, with options more than usual, and close it at the end."""
    program = needed_program("chromium", "chromium")
    rules = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    camera = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
    browser = kind.launch(executable_path=program, args=["--no-sandbox", rules, *camera, *options])
    yield browser
    browser.close()


def photographed(folder: Path, name: str, dose: float = 1.0) -> tuple[Path, Path]:
    """Photograph a piece pressed with a dose; return photo and artwork."""
    photo, artwork, scene = folder / f"{name}.jpg", folder / "artwork.png", piece_scene(dose)
    assert scene.piece is not None
    write_photo(photo, render(scene, 1))
    Image.fromarray(scene.piece.artwork).save(artwork)
    return photo, artwork


def listed(owner: Page, name: str) -> int:
    """Return how many inspections the list shows of photos of this name."""
    owner.goto(f"/inspections?search={name}")
    return owner.locator("#lines > li").count()


def take_photo(phone: Page, photo: Path, *, name: str | None = None) -> None:
    """Choose artwork and photo at the bench, the photo under another name if one is given."""
    phone.get_by_label("Artwork").select_option(label="Coaster")
    named = photo if name is None else Path(shutil.copy(photo, photo.with_name(name)))
    phone.locator("#photo").set_input_files(named)


def verdict_of(phone: Page, name: str) -> Locator:
    """Wait for the verdict on a photo; return its part of the bench."""
    verdict = phone.locator("#verdict .verdict").filter(has_text=name)
    try:
        verdict.wait_for(timeout=ENOUGH_MS)
    except TimeoutError as late:
        said = phone.locator("#state").inner_text()
        known = phone.evaluate("() => fetch('/api/v1/inspections').then(answer => answer.text())")
        raise AssertionError(f"no verdict; the bench says: {said}; the server says: {known}") from late
    return verdict


def sign_in(page: Page, shop: RunningShop) -> None:
    """Sign the owner in, as the owner does."""
    page.goto(f"{shop.url}/devices")
    page.get_by_label("Passphrase").fill(shop.passphrase)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Devices").wait_for()


def pairing_address(owner: Page, shop: RunningShop) -> str:
    """Let the owner's page make a code; return the address that its QR code holds."""
    owner.goto(f"{shop.url}/devices")
    owner.get_by_role("button", name="Show a code").click()
    code = owner.locator(".typed").inner_text().replace(" ", "")
    return f"{shop.url}/pair#{code}"


def pair(phone: Page, address: str) -> None:
    """Open what the QR code holds, and pair."""
    phone.goto(address)
    phone.get_by_role("button", name="Pair").click()
    phone.get_by_role("heading", name="Bench", exact=True).wait_for()


def add_artwork(owner: Page, shop: RunningShop, name: str, artwork: Path) -> None:
    """Add an artwork by the page's form."""
    owner.goto(f"{shop.url}/artworks")
    owner.get_by_label("Name").fill(name)
    owner.get_by_label("File", exact=True).set_input_files(artwork)
    owner.get_by_role("button", name="Add it").click()
    owner.get_by_role("heading", name=name).wait_for()
