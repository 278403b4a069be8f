"""Batches that pieces can be added to."""

from dataclasses import dataclass

from sqlalchemy import Connection, select

from dyecast_api.store.batch_tables import batches


@dataclass(frozen=True, slots=True)
class BatchChoice:
    """An open batch."""

    id: int
    name: str
    artwork_name: str


def open_batches(connection: Connection, shop_id: int) -> list[BatchChoice]:
    """Return a shop's batches that are not closed, the newest first."""
    wanted = (
        select(batches.c.id, batches.c.name, batches.c.artwork_name)
        .where(batches.c.shop_id == shop_id, batches.c.closed_at.is_(None))
        .order_by(batches.c.id.desc())
    )
    return [BatchChoice(*row) for row in connection.execute(wanted)]
