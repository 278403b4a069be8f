"""Shops: their names, their owners' passphrases, and what the owner has set."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, insert, select, update

from dyecast_api.store.shop_tables import settings, shops
from dyecast_api.work.file_rows import insert_into

KEEP_METADATA: Final = "keep_metadata"
PHOTO_DAYS: Final = "photo_days"


@dataclass(frozen=True, slots=True)
class Shop:
    """A shop; `passphrase_hash` is argon2's, None before its first start."""

    id: int
    name: str
    passphrase_hash: str | None


@dataclass(frozen=True, slots=True)
class ShopSettings:
    """What an owner sets.

    Attributes
    ----------
    keep_metadata
        Keep place, time and camera in photos.
    photo_days
        Days after which original photos are dropped; None keeps them.
    """

    keep_metadata: bool = False
    photo_days: int | None = None


def all_shops(connection: Connection) -> list[Shop]:
    """Return every shop, the first one first."""
    rows = connection.execute(select(shops.c.id, shops.c.name, shops.c.passphrase_hash).order_by(shops.c.id))
    return [Shop(*row) for row in rows]


def find_shop(connection: Connection, name: str | None) -> Shop | None:
    """Return the shop of this name, or without a name the only one; None when it cannot be told."""
    found = all_shops(connection)
    if name is None:
        return found[0] if len(found) == 1 else None
    return next((shop for shop in found if shop.name == name), None)


def add_shop(connection: Connection, name: str, passphrase_hash: str, now: datetime) -> int:
    """Add a shop and return its number; raises IntegrityError when the name is taken."""
    row = {"name": name, "passphrase_hash": passphrase_hash, "created_at": now}
    return int(connection.execute(insert(shops).values(row).returning(shops.c.id)).scalar_one())


def set_passphrase(connection: Connection, shop_id: int, passphrase_hash: str) -> None:
    """Replace a shop's passphrase."""
    connection.execute(update(shops).where(shops.c.id == shop_id).values(passphrase_hash=passphrase_hash))


def shop_settings(connection: Connection, shop_id: int) -> ShopSettings:
    """Return what the owner has set."""
    rows = connection.execute(select(settings.c.name, settings.c.value).where(settings.c.shop_id == shop_id))
    told: dict[str, Any] = {row.name: json.loads(row.value) for row in rows}
    return ShopSettings(bool(told.get(KEEP_METADATA, False)), told.get(PHOTO_DAYS))


def change_settings(connection: Connection, shop_id: int, wanted: ShopSettings, now: datetime) -> None:
    """Set all settings of a shop."""
    for name, value in ((KEEP_METADATA, wanted.keep_metadata), (PHOTO_DAYS, wanted.photo_days)):
        row = {"shop_id": shop_id, "name": name, "value": json.dumps(value), "changed_at": now}
        statement = insert_into(connection, settings).values(row)
        changed = {"value": row["value"], "changed_at": now}
        connection.execute(
            statement.on_conflict_do_update(
                index_elements=[settings.c.shop_id, settings.c.name], set_=changed
            )
        )
