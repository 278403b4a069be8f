"""What the server does by itself once an hour: original photos older than the shop wants are dropped."""

import logging
import threading
from typing import Final

from sqlalchemy import Engine

from dyecast_api.records.shop_records import all_shops, shop_settings
from dyecast_api.server.state import now_utc
from dyecast_api.store.database import reading
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.retention import drop_old_photos
from dyecast_shared.errors import DyecastError

EVERY_SECONDS: Final = 3600.0

log = logging.getLogger("dyecast.server")


def tidy_up(engine: Engine, files: FileStore) -> int:
    """Drop the original photos that each shop no longer wants; return how many."""
    with reading(engine) as connection:
        wanted = [(shop.id, shop_settings(connection, shop.id).photo_days) for shop in all_shops(connection)]
    return sum(
        drop_old_photos(engine, files, shop_id, days, now_utc())
        for shop_id, days in wanted
        if days is not None
    )


class Housekeeping:
    """Tidies up at the start and every hour, in a thread, from `start` to `stop`."""

    def __init__(self, engine: Engine, files: FileStore, seconds: float = EVERY_SECONDS) -> None:
        self.engine, self.files, self.seconds = engine, files, seconds
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="housekeeping", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End after the round in hand."""
        self._stopping.set()
        self._thread.join()

    def _run(self) -> None:
        while True:
            try:
                tidy_up(self.engine, self.files)
            except DyecastError as error:
                log.error("housekeeping rests: %s", error)
            if self._stopping.wait(self.seconds):
                return
