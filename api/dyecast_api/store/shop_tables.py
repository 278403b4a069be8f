"""Tables of shops and of who may speak for them."""

from typing import Final

from sqlalchemy import Column, String, Table, UniqueConstraint

from dyecast_api.store.metadata import Moment, metadata, row_number, shop_column

shops: Final = Table(
    "shops",
    metadata,
    row_number(),
    Column("name", String(200), nullable=False, unique=True),
    Column("passphrase_hash", String(200)),  # argon2; none until a server is started
    Column("created_at", Moment, nullable=False),
)
"""One row a shop; the command line and a fresh server use the first one."""

devices: Final = Table(
    "devices",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("kind", String(20), nullable=False),  # phone, browser or program
    Column("role", String(20), nullable=False),  # owner or bench
    Column("token_hash", String(64), nullable=False, unique=True),  # SHA-256 of a random token
    Column("created_at", Moment, nullable=False),
    Column("last_seen_at", Moment),
    Column("revoked_at", Moment),
)
"""Phones, browsers and programs that hold a token; only its hash is kept."""

pairings: Final = Table(
    "pairings",
    metadata,
    row_number(),
    shop_column(),
    Column("code_hash", String(64), nullable=False, unique=True),
    Column("role", String(20), nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("expires_at", Moment, nullable=False),
    Column("used_at", Moment),
)
"""One-time codes that turn a phone into a device."""

settings: Final = Table(
    "settings",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(100), nullable=False),
    Column("value", String, nullable=False),  # JSON text
    Column("changed_at", Moment, nullable=False),
    UniqueConstraint("shop_id", "name"),
)
"""What an owner set in the shop, such as how long photos are kept."""
