"""Opening the shop's database: SQLite set so that nothing accepted is lost, migrated to this version."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine, create_engine, event, insert, make_url, select
from sqlalchemy.exc import DatabaseError, OperationalError

from dyecast_api.store.shop_tables import shops
from dyecast_shared.errors import StoreInvalid, StoreUnavailable

BUSY_TIMEOUT_MS: Final = 10_000
"""How long a statement waits for another writer; a write takes milliseconds, so ten seconds mean trouble."""

FIRST_SHOP: Final = "shop"
"""Name of the shop that a fresh database holds."""


def open_database(url: str) -> Engine:
    """Return an engine on a migrated database with at least one shop in it.

    Parameters
    ----------
    url
        `sqlite:///FILE`, made with its folder when missing, or `postgresql+psycopg://…`.

    Raises
    ------
    StoreUnavailable
        The database cannot be reached or written.
    StoreInvalid
        The file is no database of dyecast, or a newer version wrote it.

    """
    from dyecast_api.store.migrate import migrate, one_at_a_time  # alembic, which workers do not need

    engine = engine_for(url)
    try:
        migrate(engine)
        with engine.begin() as connection:
            one_at_a_time(connection)
            _first_shop(connection)
    except OperationalError as problem:
        engine.dispose()
        raise StoreUnavailable("The shop's database could not be opened.", file=_shown(url)) from problem
    except DatabaseError as problem:
        engine.dispose()
        raise StoreInvalid("The file is no database of dyecast.", file=_shown(url)) from problem
    return engine


def engine_for(url: str) -> Engine:
    """Return an engine without touching the database; SQLite's folder is made."""
    if not url.startswith("sqlite"):
        return _server_engine(url)
    database = make_url(url).database
    try:
        Path(database or "").parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise StoreUnavailable("The data folder could not be made.", file=_shown(url)) from problem
    engine = create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_MS / 1000})
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_immediate)
    return engine


def _server_engine(url: str) -> Engine:
    """Return an engine for a database server; raise StoreUnavailable without the library for it."""
    try:
        return create_engine(url, pool_pre_ping=True)
    except ModuleNotFoundError as problem:
        raise StoreUnavailable(
            f"The library {problem.name} is missing, which this database needs.",
            advice="Install dyecast with its extra 'growing': pip install 'dyecast[growing]'.",
            file=_shown(url),
        ) from problem


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that is committed at the end and rolled back on any error.

    On SQLite every transaction begins as a writer (`BEGIN IMMEDIATE`), so that what was read stays true until
    it is committed. Raises StoreUnavailable when the database stays locked or its disk is full.
    """
    try:
        with engine.begin() as connection:
            yield connection
    except OperationalError as problem:
        raise StoreUnavailable("The shop's database could not be written.") from problem


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that only reads: on SQLite it waits for no writer and makes none wait.

    Raises StoreUnavailable when the database cannot be reached.
    """
    try:
        with engine.connect().execution_options(dyecast_reads=True) as connection:
            yield connection
    except OperationalError as problem:
        raise StoreUnavailable("The shop's database could not be read.") from problem


def first_shop_id(connection: Connection) -> int:
    """Return the shop that the command line and a fresh server speak for."""
    return int(connection.execute(select(shops.c.id).order_by(shops.c.id).limit(1)).scalar_one())


def _set_up_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    """Make commits outlive a power cut, readers and one writer work side by side, and references hold."""
    connection.isolation_level = None  # the driver begins nothing by itself: see _begin_immediate
    cursor = connection.cursor()
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"busy_timeout={BUSY_TIMEOUT_MS}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_immediate(connection: Connection) -> None:
    """Begin as a writer, unless the transaction only reads."""
    reads = connection.get_execution_options().get("dyecast_reads", False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")


def _first_shop(connection: Connection) -> None:
    """Give a fresh database its shop."""
    if connection.execute(select(shops.c.id).limit(1)).first() is None:
        connection.execute(insert(shops).values(name=FIRST_SHOP, created_at=datetime.now(UTC)))


def _shown(url: str) -> str:
    """Return the database's name without its password."""
    return make_url(url).render_as_string(hide_password=True).rpartition("/")[2]
