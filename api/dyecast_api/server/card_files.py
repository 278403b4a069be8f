"""The reference card as a file to print, and the true colours of a printed one taken in."""

import tempfile
from datetime import date
from pathlib import Path

from dyecast_api.records.card_records import CardValuesRecord
from dyecast_api.server.state import ServerState
from dyecast_api.server.uploads import SentFile
from dyecast_api.work.keep_card_values import keep_card_values


def card_pdf(layout_name: str, printed_on: date) -> bytes:
    """Return a card that ships with dyecast as a PDF at its exact size, on A4."""
    from dyecast_calibration.card_layout import layout_named
    from dyecast_calibration.card_pdf import Page, draw_card_pdf

    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        path = Path(folder) / "card.pdf"
        draw_card_pdf(layout_named(layout_name), path, mirrored=False, printed_on=printed_on, page=Page.A4)
        return path.read_bytes()


def kept_card_values(server: ServerState, shop_id: int, file: SentFile, layout: str) -> CardValuesRecord:
    """Keep the values in a file that was sent; raises what `keep_card_values` raises."""
    return keep_card_values(
        server.engine,
        server.files,
        shop_id,
        name=file.name,
        content=file.content,
        layout=layout,
        now=server.clock(),
    )
