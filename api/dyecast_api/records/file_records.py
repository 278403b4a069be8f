"""Which contents a shop keeps."""

from sqlalchemy import Connection, select

from dyecast_api.store.artwork_tables import files


def media_type_of(connection: Connection, shop_id: int, sha256: str) -> str | None:
    """Return the media type of a content of this shop, None when it has no such or retention dropped it."""
    mine = (files.c.shop_id == shop_id) & (files.c.sha256 == sha256) & files.c.dropped_at.is_(None)
    return connection.execute(select(files.c.media_type).where(mine)).scalar()
