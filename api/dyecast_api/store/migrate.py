"""Bringing a database to this version's tables, step by step (alembic)."""

import logging
from pathlib import Path
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from dyecast_shared.errors import StoreInvalid

SET_UP_LOCK: Final = 0x64796563617374
"""Number of the lock that PostgreSQL keeps for us: the letters `dyecast`."""

MIGRATIONS: Final = Path(__file__).with_name("migrations")
"""Folder of the steps; each names the one before it."""


def migrate(engine: Engine) -> None:
    """Take every step that the database has not taken yet, all or none of them.

    Raises StoreInvalid when a newer version of dyecast wrote the database.
    """
    config = _config()
    steps = ScriptDirectory.from_config(config)
    with engine.connect() as connection:
        taken = MigrationContext.configure(connection).get_current_revision()
    if taken == steps.get_current_head():
        return
    if taken is not None and taken not in {step.revision for step in steps.walk_revisions()}:
        raise StoreInvalid("A newer version of dyecast wrote the shop's database.", advice="Update dyecast.")
    logging.getLogger("alembic").setLevel(logging.WARNING)
    with engine.begin() as connection:
        one_at_a_time(connection)
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def one_at_a_time(connection: Connection) -> None:
    """Hold back other processes that set up the same database, until this transaction ends.

    On SQLite the transaction itself does that.
    """
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({SET_UP_LOCK})")


def _config() -> Config:
    """Return alembic's settings without a file of its own."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config
