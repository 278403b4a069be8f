"""Which contents of the store the shop's tables name."""

from typing import Final

from sqlalchemy import Connection, select

from dyecast_api.store.artwork_tables import artwork_versions, card_values, files
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.inspection_tables import inspections

NAMED_BY: Final = (
    inspections.c.photo_sha256,
    artwork_versions.c.file_sha256,
    artwork_versions.c.printer_profile_sha256,
    card_values.c.file_sha256,
    batches.c.artwork_sha256,
    batches.c.certificate_sha256,
)
"""Columns that name contents, beside the table of files. A pressing's photo is not among them: it is the
fingerprint of a file, which is in the store only as an inspection's."""


def kept_files(connection: Connection) -> set[str]:
    """Return the contents that must be in the store: all that were kept and not dropped."""
    return set(connection.execute(select(files.c.sha256).where(files.c.dropped_at.is_(None))).scalars())


def named_files(connection: Connection) -> set[str]:
    """Return the contents that any other table names; some may never have been sent, or were dropped."""
    named: set[str] = set()
    for column in NAMED_BY:
        named |= {sha256 for sha256 in connection.execute(select(column)).scalars() if sha256}
    for pictures in connection.execute(select(inspections.c.pictures)).scalars():
        named |= set((pictures or {}).values())
    return named
