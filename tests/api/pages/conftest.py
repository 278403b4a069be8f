"""One server and one browser for all of these tests; a page of its own for each."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, StorageState, expect

from .shop_browser import (
    PHONE,
    RunningShop,
    add_artwork,
    pair,
    pairing_address,
    photographed,
    running_browser,
    running_shop,
    sign_in,
    watched_page,
)

expect.set_options(timeout=20_000)  # ms; a machine that runs other tests beside is slow


@dataclass(frozen=True, slots=True)
class OpenShop:
    """A shop with the artwork `Coaster`, and what its owner's browser and one phone hold."""

    running: RunningShop
    owner: StorageState
    phone: StorageState

    @property
    def url(self) -> str:
        """Address of the shop for browsers."""
        return self.running.url


@pytest.fixture(scope="package")
def piece(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return photographed(tmp_path_factory.mktemp("piece"), "coaster")


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    with running_browser() as started:
        yield started


@pytest.fixture(scope="package")
def shop(
    browser: Browser, piece: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[OpenShop]:
    with running_shop(tmp_path_factory.mktemp("shop")) as running:
        owners, phones = browser.new_context(**PHONE), browser.new_context(**PHONE)
        owner, phone = owners.new_page(), phones.new_page()
        sign_in(owner, running)
        add_artwork(owner, running, "Coaster", piece[1])
        pair(phone, pairing_address(owner, running))
        held = owners.storage_state(), phones.storage_state()
        owners.close()
        phones.close()
        yield OpenShop(running, *held)


@pytest.fixture
def owner(browser: Browser, shop: OpenShop) -> Iterator[Page]:
    context = browser.new_context(**PHONE, base_url=shop.url, storage_state=shop.owner)
    with watched_page(context) as page:
        yield page
    context.close()


@pytest.fixture
def phone(browser: Browser, shop: OpenShop) -> Iterator[Page]:
    """A paired phone at the bench."""
    context = browser.new_context(**PHONE, base_url=shop.url, storage_state=shop.phone)
    with watched_page(context) as page:
        page.goto("/")
        yield page
    context.close()
