"""The table of files: which contents a shop keeps."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table

from dyecast_api.store.artwork_tables import files


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A content in the store: its SHA-256, its size and its media type, e.g. ``image/jpeg``."""

    sha256: str
    byte_count: int
    media_type: str


def record_file(connection: Connection, shop_id: int, kept: KeptFile, now: datetime) -> None:
    """Say that a shop keeps a content; one that retention had dropped counts as kept again.

    The row stays locked until the transaction ends, so that retention cannot drop the content meanwhile.
    """
    row = {
        "shop_id": shop_id,
        "sha256": kept.sha256,
        "byte_count": kept.byte_count,
        "media_type": kept.media_type,
        "kept_at": now,
    }
    statement = insert_into(connection, files).values(row)
    connection.execute(
        statement.on_conflict_do_update(
            index_elements=[files.c.shop_id, files.c.sha256], set_={"dropped_at": None}
        )
    )


def insert_into(connection: Connection, table: Table) -> Any:  # noqa: ANN401 (two dialects, one interface)
    """Return an INSERT that knows ON CONFLICT, in the words of the database at hand."""
    if connection.dialect.name == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)
    from sqlalchemy.dialects import sqlite

    return sqlite.insert(table)
