"""How much waits to be inspected, and at which stage it is, over all shops."""

from sqlalchemy import Connection, func, select

from dyecast_api.store.inspection_tables import inspections


def queue_depth(connection: Connection) -> int:
    """Return how many inspections are not finished."""
    waiting = select(func.count()).select_from(inspections).where(inspections.c.finished_at.is_(None))
    return int(connection.execute(waiting).scalar_one())


def stage_counts(connection: Connection) -> dict[str, int]:
    """Return how many inspections are at each stage now."""
    counted = (
        select(inspections.c.stage, func.count())
        .where(inspections.c.finished_at.is_(None), inspections.c.stage.is_not(None))
        .group_by(inspections.c.stage)
    )
    return {row[0]: row[1] for row in connection.execute(counted)}
