"""Run by alembic for each migration: uses the connection that `migrate` opened, inside its transaction."""

from alembic import context

from dyecast_api.store.all_tables import all_metadata


def run() -> None:
    """Take the steps that the database lacks."""
    context.configure(
        connection=context.config.attributes["connection"],
        target_metadata=all_metadata,
        render_as_batch=True,  # SQLite changes a column by copying the table
        transactional_ddl=True,
    )
    context.run_migrations()


if hasattr(context, "config"):  # not when somebody merely imports this module
    run()
