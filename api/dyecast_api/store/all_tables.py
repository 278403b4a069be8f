"""Every table of the shop's database, for migrations, backups and checks."""

from typing import Final

from dyecast_api.store import artwork_tables, batch_tables, inspection_tables, press_tables, shop_tables
from dyecast_api.store.metadata import metadata

MODULES: Final = (shop_tables, artwork_tables, press_tables, batch_tables, inspection_tables)
"""The modules that define tables; importing them fills `all_metadata`."""

all_metadata: Final = metadata
"""The metadata once every table is on it."""
