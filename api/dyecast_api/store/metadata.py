"""What all tables of the shop's database share: their names' pattern, and how moments are kept."""

from datetime import UTC, datetime
from typing import Final

from sqlalchemy import Column, Dialect, ForeignKey, Integer, MetaData, String
from sqlalchemy.types import TypeDecorator

metadata: Final = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_N_label)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)
"""All tables. Constraints have fixed names, so that a migration can find them on every database."""


class Moment(TypeDecorator[datetime]):
    """A moment in UTC to the microsecond, kept as ISO 8601 text: it sorts, and reads the same everywhere.

    Python sees aware datetimes; a naive one raises ValueError.
    """

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """Return the text to keep."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("A moment without a time zone cannot be kept.")
        return value.astimezone(UTC).isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment kept."""
        return None if value is None else datetime.fromisoformat(value)


def row_number() -> Column[int]:
    """Return the column that numbers a table's rows."""
    return Column("id", Integer, primary_key=True)


def shop_column() -> Column[int]:
    """Return the column that says which shop a row belongs to; every query filters on it."""
    return Column("shop_id", ForeignKey("shops.id"), nullable=False, index=True)
