"""An inspector that answers at once, for tests of what stands around it; it loads no library of pictures."""

import os
import signal
import time
from collections.abc import Callable

from sqlalchemy import Engine

from dyecast_api.work.file_store import FileStore
from dyecast_api.work.queue import Claimed, InspectionResult

PAUSES = {"slow": 0.6, "trial": 0.08}
"""Seconds an inspection takes by how the photo's name begins."""

Inspect = Callable[[Claimed, Callable[[str], None]], InspectionResult]


def quick_inspector(_engine: Engine, store: FileStore) -> Inspect:
    """Find every photo good, in a moment; `fatal*` ends its worker, `slow*` and `trial*` take their time."""

    def inspect(claimed: Claimed, say: Callable[[str], None]) -> InspectionResult:
        say("looking")
        store.read(claimed.photo_sha256)
        if claimed.photo_name.startswith("fatal"):
            os.kill(os.getpid(), signal.SIGKILL)
        time.sleep(PAUSES.get(claimed.photo_name.partition("-")[0].removesuffix(".jpg"), 0.02))
        return InspectionResult("good", document={"verdict": "good", "photo": claimed.photo_name})

    return inspect
