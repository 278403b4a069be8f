"""Devices that may speak for a shop, and the one-time codes that pair a phone."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, insert, select, update

from dyecast_api.store.shop_tables import devices, pairings

SEEN_EVERY: Final = timedelta(minutes=1)
"""How exactly a device's last visit is known: not every request writes."""


@dataclass(frozen=True, slots=True)
class Device:
    """A phone, browser or program; `role` is ``owner`` or ``bench``."""

    id: int
    shop_id: int
    name: str
    kind: str
    role: str
    created_at: datetime
    last_seen_at: datetime | None
    revoked_at: datetime | None


_COLUMNS: Final = (
    devices.c.id,
    devices.c.shop_id,
    devices.c.name,
    devices.c.kind,
    devices.c.role,
    devices.c.created_at,
    devices.c.last_seen_at,
    devices.c.revoked_at,
)


def add_device(  # noqa: PLR0913 (a row, each column by name)
    connection: Connection, shop_id: int, *, name: str, kind: str, role: str, token_hash: str, now: datetime
) -> Device:
    """Add a device that holds the token of this hash."""
    row = {"name": name, "kind": kind, "role": role, "token_hash": token_hash, "created_at": now}
    statement = insert(devices).values(shop_id=shop_id, **row).returning(*_COLUMNS)
    return Device(*connection.execute(statement).one())


def device_of_token(connection: Connection, token_hash: str) -> Device | None:
    """Return the device that holds a token, unless it was revoked."""
    wanted = select(*_COLUMNS).where(devices.c.token_hash == token_hash, devices.c.revoked_at.is_(None))
    row = connection.execute(wanted).first()
    return None if row is None else Device(*row)


def note_visit(connection: Connection, device: Device, now: datetime) -> None:
    """Remember that a device was seen."""
    connection.execute(update(devices).where(devices.c.id == device.id).values(last_seen_at=now))


def was_seen_lately(device: Device, now: datetime) -> bool:
    """Tell whether the device's last visit is known exactly enough."""
    return device.last_seen_at is not None and now - device.last_seen_at < SEEN_EVERY


def list_devices(connection: Connection, shop_id: int) -> list[Device]:
    """Return a shop's devices, the newest first, revoked ones too."""
    wanted = select(*_COLUMNS).where(devices.c.shop_id == shop_id).order_by(devices.c.id.desc())
    return [Device(*row) for row in connection.execute(wanted)]


def rename_device(connection: Connection, device: Device, name: str) -> None:
    """Call a device by another name."""
    connection.execute(update(devices).where(devices.c.id == device.id).values(name=name))


def revoke_device(connection: Connection, shop_id: int, device_id: int, now: datetime) -> bool:
    """Take a device's right away; False when the shop has no such device. Twice is as good as once."""
    mine = (devices.c.id == device_id) & (devices.c.shop_id == shop_id)
    if connection.execute(select(devices.c.id).where(mine)).first() is None:
        return False
    connection.execute(update(devices).where(mine, devices.c.revoked_at.is_(None)).values(revoked_at=now))
    return True


def add_pairing(  # noqa: PLR0913, PLR0917 (a row)
    connection: Connection, shop_id: int, code_hash: str, role: str, now: datetime, expires_at: datetime
) -> None:
    """Keep a one-time code's hash until it is used or too old."""
    row = {"code_hash": code_hash, "role": role, "created_at": now, "expires_at": expires_at}
    connection.execute(insert(pairings).values(shop_id=shop_id, **row))


def use_pairing(connection: Connection, code_hash: str, now: datetime) -> tuple[int, str] | None:
    """Use a one-time code up; return its shop and role, None when it is unknown, used or too old."""
    statement = (
        update(pairings)
        .where(pairings.c.code_hash == code_hash, pairings.c.used_at.is_(None), pairings.c.expires_at > now)
        .values(used_at=now)
        .returning(pairings.c.shop_id, pairings.c.role)
    )
    row = connection.execute(statement).first()
    return None if row is None else (row.shop_id, row.role)
