"""A fresh shop's server for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from starlette.testclient import TestClient

from dyecast_api.server import passphrase

from .shop_server import ShopServer, shop_server


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash passphrases with less work than guessing must cost."""
    monkeypatch.setattr(passphrase, "HASHER", PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))


@pytest.fixture
def server(tmp_path: Path) -> Iterator[ShopServer]:
    opened = shop_server(tmp_path)
    yield opened
    opened.engine.dispose()


@pytest.fixture
def owner(server: ShopServer) -> TestClient:
    return server.owner()
