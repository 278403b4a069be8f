"""The shop's database and files opened from the command line, without any server."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Engine

from dyecast_api.command_settings import command_settings
from dyecast_api.store.database import first_shop_id, open_database, reading
from dyecast_api.work.file_store import FileStore, open_file_store


@dataclass(frozen=True, slots=True, eq=False)
class OpenedShop:
    """The database, the store of files, and the number of the shop the command line speaks for."""

    engine: Engine
    store: FileStore
    shop_id: int


@contextmanager
def opened_shop() -> Iterator[OpenedShop]:
    """Open the shop's data; raises StoreTrouble when it cannot be opened."""
    settings = command_settings()
    engine = open_database(settings.database)
    try:
        with reading(engine) as connection:
            shop_id = first_shop_id(connection)
        yield OpenedShop(engine, open_file_store(settings.files_place), shop_id)
    finally:
        engine.dispose()
