"""True colours of a shop's own cards."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sqlalchemy import Connection, insert, select, update

from dyecast_api.store.artwork_tables import card_values


@dataclass(frozen=True, slots=True)
class CardValuesRecord:
    """Values that a shop gave for one layout and edition of the card; `trust` is measured or transferred."""

    id: int
    layout: str
    edition: int
    trust: str
    file_sha256: str
    added_at: datetime


_COLUMNS: Final = (
    card_values.c.id,
    card_values.c.layout,
    card_values.c.edition,
    card_values.c.trust,
    card_values.c.file_sha256,
    card_values.c.added_at,
)


def list_card_values(connection: Connection, shop_id: int) -> list[CardValuesRecord]:
    """Return the values in use or replaced but not withdrawn, the newest first."""
    wanted = (
        select(*_COLUMNS)
        .where(card_values.c.shop_id == shop_id, card_values.c.withdrawn_at.is_(None))
        .order_by(card_values.c.id.desc())
    )
    return [CardValuesRecord(*row) for row in connection.execute(wanted)]


def add_card_values(  # noqa: PLR0913 (a row, each column by name)
    connection: Connection,
    shop_id: int,
    *,
    layout: str,
    edition: int,
    trust: str,
    file_sha256: str,
    now: datetime,
) -> CardValuesRecord:
    """Add values; from now on they count for their layout."""
    row = {
        "layout": layout,
        "edition": edition,
        "trust": trust,
        "file_sha256": file_sha256,
        "added_at": now,
    }
    statement = insert(card_values).values(shop_id=shop_id, **row).returning(*_COLUMNS)
    return CardValuesRecord(*connection.execute(statement).one())


def withdraw_card_values(connection: Connection, shop_id: int, values_id: int, now: datetime) -> bool:
    """Take values out of use; False when the shop has no such values."""
    mine = (card_values.c.id == values_id) & (card_values.c.shop_id == shop_id)
    changed = update(card_values).where(mine, card_values.c.withdrawn_at.is_(None))
    return connection.execute(changed.values(withdrawn_at=now)).rowcount > 0
