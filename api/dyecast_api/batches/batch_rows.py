"""Rows of batches, read and changed through a connection; every query names its shop."""

from dataclasses import asdict, fields, replace
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from dyecast_api.batches.batch_values import Batch, BatchState, Sampling
from dyecast_api.store.batch_tables import batches
from dyecast_shared.errors import BatchChanged, BatchInvalid


def add_batch(connection: Connection, shop_id: int, batch: Batch) -> Batch:
    """Keep a new batch; raises BatchInvalid when its name is taken or its counts are not above zero."""
    if any(batch.name == known.name for known in all_batches(connection, shop_id)):
        raise BatchInvalid(
            f"There is a batch '{batch.name}' already.",
            advice="Choose another name, such as one with the date in it.",
        )
    if batch.every_nth < 1 or (batch.planned_pieces is not None and batch.planned_pieces < 1):
        raise BatchInvalid("A batch has at least one piece, and inspects every first or later one.")
    row = {field.name: getattr(batch, field.name) for field in fields(Batch) if field.name != "number"}
    row["sampling"] = None if batch.sampling is None else asdict(batch.sampling)
    added = connection.execute(insert(batches).values(shop_id=shop_id, **row))
    return replace(batch, number=int((added.inserted_primary_key or (0,))[0]))


def all_batches(connection: Connection, shop_id: int) -> tuple[Batch, ...]:
    """Return the shop's batches, oldest first."""
    wanted = select(batches).where(batches.c.shop_id == shop_id).order_by(batches.c.id)
    return tuple(map(_batch, connection.execute(wanted)))


def newest_batches(
    connection: Connection, shop_id: int, *, before_number: int | None = None, limit: int
) -> tuple[Batch, ...]:
    """Return a page of the shop's batches, the newest first, from below `before_number`."""
    wanted = select(batches).where(batches.c.shop_id == shop_id)
    if before_number is not None:
        wanted = wanted.where(batches.c.id < before_number)
    return tuple(map(_batch, connection.execute(wanted.order_by(batches.c.id.desc()).limit(limit))))


def batch_numbered(connection: Connection, shop_id: int, number: int) -> Batch | None:
    """Return a batch, None when the shop has none of that number."""
    mine = select(batches).where(batches.c.shop_id == shop_id, batches.c.id == number)
    row = connection.execute(mine).first()
    return None if row is None else _batch(row)


def batch_named(connection: Connection, shop_id: int, name: str) -> Batch:
    """Return a batch; raises BatchInvalid, naming those there are, when there is none of that name."""
    named = select(batches).where(batches.c.shop_id == shop_id, batches.c.name == name)
    row = connection.execute(named).first()
    if row is None:
        there = ", ".join(f"'{known.name}'" for known in all_batches(connection, shop_id)) or "none yet"
        raise BatchInvalid(
            f"There is no batch called '{name}'.",
            advice=f"There are: {there}.",
            field="batch",
        )
    return _batch(row)


def batch_now(connection: Connection, shop_id: int, seen: Batch) -> Batch:
    """Return a batch as it is now; nobody else changes it until the transaction ends."""
    mine = select(batches).where(batches.c.shop_id == shop_id, batches.c.id == seen.number)
    return _batch(connection.execute(mine.with_for_update()).one())


def changed_batch(connection: Connection, shop_id: int, seen: Batch, **values: Any) -> Batch:  # noqa: ANN401
    """Change a batch that is still as it was seen; return it as it is now.

    Raises BatchChanged when somebody else changed it meanwhile; nothing is written then.
    """
    mine = (batches.c.shop_id == shop_id) & (batches.c.id == seen.number)
    statement = update(batches).where(mine, batches.c.revision == seen.revision)
    written = connection.execute(statement.values(revision=seen.revision + 1, **values))
    if written.rowcount != 1:
        raise BatchChanged(f"Somebody else changed batch '{seen.name}' meanwhile; nothing was written.")
    return replace(seen, revision=seen.revision + 1, **values)


def check_open(batch: Batch) -> None:
    """Raise BatchChanged when a batch is closed."""
    if batch.state is BatchState.CLOSED:
        when = "" if batch.closed_at is None else f" on {batch.closed_at:%Y-%m-%d at %H:%M} UTC"
        raise BatchChanged(
            f"Batch '{batch.name}' was closed by {batch.closed_by}{when}; nothing was written.",
            advice="Start a new batch; this one's certificate can be had again.",
            field="certificate",
        )


def _batch(row: Row[Any]) -> Batch:
    given = {field.name: row._mapping[field.name] for field in fields(Batch) if field.name != "number"}
    given["sampling"] = None if row.sampling is None else Sampling(**row.sampling)
    given["state"] = BatchState(row.state)
    return Batch(**given, number=row.id)
