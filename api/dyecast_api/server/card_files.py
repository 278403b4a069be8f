"""The reference card as a file to print, and the true colours of a printed one taken in."""

import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.records.card_records import CardValuesRecord, add_card_values
from dyecast_api.server.state import ServerState
from dyecast_api.server.uploads import SentFile
from dyecast_api.store.database import writing
from dyecast_api.work.accept_photo import plain_name
from dyecast_api.work.file_rows import KeptFile, record_file

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues


def card_pdf(layout_name: str, printed_on: date) -> bytes:
    """Return a card that ships with dyecast as a PDF at its exact size, on A4."""
    from dyecast_calibration.card_layout import layout_named
    from dyecast_calibration.card_pdf import Page, draw_card_pdf

    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        path = Path(folder) / "card.pdf"
        draw_card_pdf(layout_named(layout_name), path, mirrored=False, printed_on=printed_on, page=Page.A4)
        return path.read_bytes()


def kept_card_values(server: ServerState, shop_id: int, file: SentFile, layout_name: str) -> CardValuesRecord:
    """Read measurements (CGATS) or a card values file, and keep them as a card values file of ours.

    `layout_name` is the card that was measured; a file of ours names its own card.

    Raises CardFileInvalid or MeasurementsInvalid when they cannot be used.
    """
    from dyecast_calibration.card_layout import layout_named
    from dyecast_calibration.card_values import save_card_values

    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        sent, ours = Path(folder) / plain_name(file.name), Path(folder) / "values of the card.json"
        sent.write_bytes(file.content)
        layout, values = _understood(sent, layout_named(layout_name))
        save_card_values(ours, values, layout)
        content = ours.read_bytes()
    kept = KeptFile(server.files.keep(content), len(content), "application/json")
    now = server.clock()
    with writing(server.engine) as connection:
        record_file(connection, shop_id, kept, now)
        return add_card_values(
            connection,
            shop_id,
            layout=layout.name,
            edition=layout.edition,
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
