"""A shop with a queue for the tests: small photos, orders, rows."""

import io
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import numpy as np
from PIL import Image
from sqlalchemy import Engine, select

from dyecast_api.store.database import first_shop_id, reading
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.work.accept_photo import Accepted, PhotoOrder, accept_photo
from dyecast_api.work.file_store import FileStore

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)


def small_photo(seed: int = 0, kind: str = "JPEG", **options: Any) -> bytes:
    """Draw a photo of noise, 80 × 64 pixels, a different one for each seed."""
    pixels = np.random.default_rng(seed).integers(0, 256, (64, 80, 3), dtype=np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, kind, **options)
    return stream.getvalue()


def shop_of(engine: Engine) -> int:
    """Return the only shop."""
    with reading(engine) as connection:
        return first_shop_id(connection)


def send(engine: Engine, store: FileStore, seed: int = 0, **order: Any) -> Accepted:
    """Accept a small photo."""
    name = order.pop("photo_name", f"piece-{seed}.jpg")
    wanted = PhotoOrder(shop_id=shop_of(engine), photo_name=name, **order)
    return accept_photo(engine, store, wanted, small_photo(seed), NOON)


def row_of(engine: Engine, inspection_id: int) -> Any:
    """Return an inspection's row."""
    with reading(engine) as connection:
        return connection.execute(select(inspections).where(inspections.c.id == inspection_id)).one()


def rows_of(engine: Engine) -> list[Any]:
    """Return all inspections' rows, oldest first."""
    with reading(engine) as connection:
        return list(connection.execute(select(inspections).order_by(inspections.c.id)))


def until(condition: Callable[[], bool], seconds: float = 30.0) -> None:
    """Wait for something to become true."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)
