"""The press log opened from the command line, without any server."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection

from dyecast_api.command_settings import command_settings
from dyecast_api.store.database import first_shop_id, open_database, reading, writing


@contextmanager
def opened_log(*, write: bool = True) -> Iterator[tuple[Connection, int]]:
    """Open the shop's database for one transaction; yield the connection and the shop's number.

    Raises StoreTrouble when it cannot be opened. With `write` all of it is kept at the end, or on any error
    none.
    """
    engine = open_database(command_settings().database)
    try:
        with writing(engine) if write else reading(engine) as connection:
            yield connection, first_shop_id(connection)
    finally:
        engine.dispose()
