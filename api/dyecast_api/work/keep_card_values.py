"""The true colours of a shop's printed card, taken in and kept for every inspection to come."""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Engine

from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.records.card_records import CardValuesRecord, add_card_values
from dyecast_api.store.database import writing
from dyecast_api.work.accept_photo import plain_name
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_api.work.file_store import FileStore

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues


def keep_card_values(  # noqa: PLR0913 (where to, what, and when)
    engine: Engine, store: FileStore, shop_id: int, *, name: str, content: bytes, layout: str, now: datetime
) -> CardValuesRecord:
    """Read measurements (CGATS) or a card values file, and keep them as a card values file of ours.

    `name` is the file's, a label only. `layout` is the card that was measured; a file of ours names its own.

    Raises CardFileInvalid or MeasurementsInvalid when they cannot be used.
    """
    from dyecast_calibration.card_layout import layout_named
    from dyecast_calibration.card_values import save_card_values

    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        sent, ours = Path(folder) / plain_name(name), Path(folder) / "values of the card.json"
        sent.write_bytes(content)
        card, values = _understood(sent, layout_named(layout))
        save_card_values(ours, values, card)
        written = ours.read_bytes()
    kept = KeptFile(store.keep(written), len(written), "application/json")
    with writing(engine) as connection:
        record_file(connection, shop_id, kept, now)
        return add_card_values(
            connection,
            shop_id,
            layout=card.name,
            edition=card.edition,
            trust=values.trust.value,
            file_sha256=kept.sha256,
            now=now,
        )


def _understood(path: Path, measured: "CardLayout") -> "tuple[CardLayout, CardValues]":
    """Return the layout a file belongs to, and its values."""
    from dyecast_calibration.cgats import measured_values

    if not path.read_bytes().lstrip().startswith(b"{"):
        return measured, measured_values(path, measured)
    layouts = layouts_to_look_for(None)
    ((name, values),) = values_by_layout([path], layouts).items()
    return next(layout for layout in layouts if layout.name == name), values
