"""A shop's server for the tests: signed-in clients, and a worker that answers at once."""

import io
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI
from PIL import Image
from sqlalchemy import Engine
from starlette.testclient import TestClient

from dyecast_api.records.shop_records import add_shop
from dyecast_api.server.app import create_app
from dyecast_api.server.first_start import first_passphrase
from dyecast_api.server.passphrase import hash_passphrase
from dyecast_api.server.settings import ServerSettings
from dyecast_api.store.database import open_database, writing
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.file_store import FileStore, LocalFileStore
from dyecast_api.work.queue import InspectionResult, claim, finish, set_stage

API = "/api/v1"
HOST = "http://bench.shop.example"
SAME_ORIGIN = {"Origin": HOST}


def photo(seed: int = 0) -> bytes:
    """Draw a small photo of noise, another for each seed."""
    pixels = np.random.default_rng(seed).integers(0, 256, (64, 80, 3), dtype=np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG")
    return stream.getvalue()


@dataclass(slots=True)
class Clock:
    """A clock that goes only when it is told to."""

    now: datetime = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **time: float) -> None:
        """Let time pass."""
        self.now += timedelta(**time)


@dataclass(slots=True)
class ShopServer:
    """A server with one shop, its owner's passphrase, and clients of it."""

    app: FastAPI
    engine: Engine
    files: FileStore
    passphrase: str
    clock: Clock
    told: list[int] = field(default_factory=list)

    def client(self) -> TestClient:
        """Return a browser that nobody is signed in with."""
        return TestClient(self.app, base_url=HOST, raise_server_exceptions=False, headers=SAME_ORIGIN)

    def owner(self, passphrase: str | None = None, shop: str | None = None) -> TestClient:
        """Return the owner's browser, signed in."""
        client = self.client()
        body = {"passphrase": passphrase or self.passphrase, "shop": shop}
        assert client.post(f"{API}/sign-in", json=body).status_code == 201
        return client

    def phone(self, owner: TestClient) -> TestClient:
        """Return a phone that was paired for the bench."""
        client = self.client()
        code = owner.post(f"{API}/pairings", json={}).json()["code"]
        assert client.post(f"{API}/devices", json={"code": code}).status_code == 201
        return client

    def program(self, owner: TestClient, role: str = "bench") -> TestClient:
        """Return a program with a bearer token."""
        answer = owner.post(f"{API}/programs", json={"name": "till", "role": role})
        client = TestClient(self.app, base_url=HOST, raise_server_exceptions=False)
        client.headers["Authorization"] = f"Bearer {answer.json()['token']}"
        return client

    def second_shop(self) -> TestClient:
        """Return the owner of another shop on the same server."""
        with writing(self.engine) as connection:
            add_shop(connection, "the other shop", hash_passphrase("their own words"), self.clock())
        return self.owner("their own words", "the other shop")

    def work(self, verdict: str = "good", **figures: Any) -> None:
        """Finish all that waits, with a picture of the piece."""
        while (claimed := claim(self.engine, self.clock(), worker="test")) is not None:
            set_stage(self.engine, claimed, "finding the piece")
            picture = photo(999)
            kept = KeptFile(self.files.keep(picture), len(picture), "image/jpeg")
            document = {"verdict": verdict, "photo": claimed.photo_name}
            result = InspectionResult(
                verdict, document=document, confidence=0.9, pictures={"piece": kept}, **figures
            )
            assert finish(self.engine, claimed, result, self.clock())


def shop_server(folder: Path, url: str | None = None, **settings: Any) -> ShopServer:
    """Start a shop's server in a folder, without workers of its own."""
    chosen = ServerSettings(data=folder, database_url=url, workers=0, **settings)
    engine, files = open_database(chosen.database), LocalFileStore(folder / "files")
    told: list[int] = []
    clock = Clock()
    passphrase = first_passphrase(engine)
    assert passphrase is not None
    app = create_app(chosen, engine, files, tell=told.append, clock=clock)
    return ShopServer(app, engine, files, passphrase, clock, told)


def add_artwork(owner: TestClient, name: str = "Harbour", content: bytes | None = None) -> int:
    """Add an artwork and return its number."""
    files = {"file": ("harbour.png", content or photo(1), "image/png")}
    answer = owner.post(f"{API}/artworks", data={"name": name}, files=files)
    assert answer.status_code == 201, answer.text
    number: int = answer.json()["id"]
    return number


def send_photo(client: TestClient, artwork: int, seed: int = 0, key: str | None = None) -> Any:
    """Send a photo as the bench page does; return the answer."""
    return client.post(
        f"{API}/inspections",
        data={"artwork": str(artwork)},
        files={"photo": (f"piece-{seed}.jpg", photo(seed), "image/jpeg")},
        headers={} if key is None else {"Idempotency-Key": key},
    )


def assert_problem(answer: Any, status: int, code: str) -> None:
    """Check that an answer is a problem document with this code and something to do."""
    assert answer.status_code == status, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    body = answer.json()
    assert body["code"] == code
    assert body["type"] == f"/problems/{code}"
    assert body["status"] == status
    assert body["advice"].endswith(".")
    assert body["request_id"] == answer.headers["X-Request-ID"]
