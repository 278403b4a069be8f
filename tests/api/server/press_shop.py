"""A shop that presses: what it presses with and on, and pieces that its bench photographs."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import update
from starlette.testclient import TestClient

from dyecast_api.store.database import writing
from dyecast_api.store.inspection_tables import inspections

from .shop_server import API, ShopServer, add_artwork, photo

PRESS = {"name": "front press", "highest_temperature_celsius": 215}
MAGNET = {
    "name": "magnet",
    "material": "glass",
    "thickness_mm": 4,
    "coating_side": "back",
    "supplier_temperature_celsius": 193,
    "supplier_time_seconds": 90,
    "cost": 1.2,
    "currency": "EUR",
}


@dataclass(frozen=True, slots=True)
class PressLog:
    """Identifiers of one of everything."""

    press: int
    blank: int
    recipe: int


def added(client: TestClient, path: str, body: dict[str, Any]) -> dict[str, Any]:
    """Add something over HTTP, and return it."""
    answer = client.post(f"{API}/{path}", json=body)
    assert answer.status_code == 201, answer.text
    told: dict[str, Any] = answer.json()
    return told


def add_log(client: TestClient) -> PressLog:
    """Add a press, a glass magnet and a recipe over HTTP."""
    press, blank = added(client, "presses", PRESS)["id"], added(client, "blanks", MAGNET)["id"]
    heat = {"temperature_celsius": 193, "time_seconds": 90, "pressure_kilopascal": 300}
    recipe = added(client, "recipes", {"name": "magnets", "press": press, "blank": blank, **heat})
    return PressLog(press, blank, recipe["id"])


def start_batch(client: TestClient, name: str = "May", **more: Any) -> int:
    """Start a batch of the artwork `Harbour`, with all that it needs; return its number."""
    body = {"name": name, "recipe": add_log(client).recipe, "artwork": add_artwork(client), **more}
    return int(added(client, "batches", body)["id"])


def photograph(server: ShopServer, client: TestClient, batch: int, seed: int, ink: float = 0.97) -> str:
    """Take a piece's photo at the bench for a batch, and let a worker find this much ink."""
    return inspected(server, client, {"batch": str(batch)}, seed, ink)


def inspected(
    server: ShopServer, client: TestClient, wishes: dict[str, str], seed: int, ink: float = 0.97
) -> str:
    """Send a photo with these wishes, let a worker find this much ink, and return the inspection."""
    files = {"photo": (f"piece-{seed}.jpg", photo(seed), "image/jpeg")}
    sent = client.post(f"{API}/inspections", data=wishes, files=files)
    assert sent.status_code == 202, sent.text
    server.work()
    features = {
        "transferred_fraction": {"value": ink, "uncertainty": 0.03},
        "veil": {"value": 0.01, "uncertainty": 0.005},
    }
    difference = {"mean": 1.5, "median": 1.2, "p95": 3.0}
    document = {
        "verdict": "good",
        "confidence": 0.9,
        "features": features,
        "delta_e_2000": difference,
        "delta_e_2000_approved": difference,
        "card": {"layout": "a6", "edition": 1, "trust": "as designed", "leave_one_out_mean": 1.1},
        "software": "dyecast",
    }
    with writing(server.engine) as connection:
        mine = inspections.c.public_id == sent.json()["id"]
        connection.execute(update(inspections).where(mine).values(document=document))
    return str(sent.json()["id"])
