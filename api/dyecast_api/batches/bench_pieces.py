"""Pieces that were photographed at the bench for a batch: taken into it in the order they were received.

A worker knows nothing of batches; whoever looks at a batch takes in what was inspected for it meanwhile. So
nothing is lost when a worker or the server is killed between the two.
"""

from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from dyecast_api.batches.batch_pieces import InspectedPhoto, add_inspected, piece_of_pressing
from dyecast_api.batches.batch_rows import batch_named, batch_now
from dyecast_api.batches.batch_values import Batch, BatchState
from dyecast_api.batches.inspected_piece import PieceEntry, pressing_of
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.press_log.log_rows import all_recipes
from dyecast_api.press_log.log_values import GRADES, Recipe
from dyecast_api.store.database import reading, writing
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.store.press_tables import pressings
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.queue import InspectionResult
from dyecast_shared.errors import BatchInvalid


def up_to_date(shop: OpenedShop, name: str, now: datetime) -> Batch:
    """Return a batch after what the bench inspected for it was taken in; raises BatchInvalid for no such."""
    with reading(shop.engine) as connection:
        batch = batch_named(connection, shop.shop_id, name)
    return take_in_bench_pieces(shop, batch, now)


def take_in_bench_pieces(shop: OpenedShop, batch: Batch, now: datetime) -> Batch:
    """Add the judged pieces that the bench inspected for an open batch; return the batch as it is then.

    While a first piece waits to be approved or held, the pieces after it wait too. A photo that the batch has
    already is passed over.
    """
    with reading(shop.engine) as connection:
        waiting = _waiting(connection, shop.shop_id, batch)
        recipes = {one.number: one for one in all_recipes(connection, shop.shop_id)}
    for row in waiting:
        with writing(shop.engine) as connection:
            batch = batch_now(connection, shop.shop_id, batch)
            if batch.state is BatchState.CLOSED or _must_be_decided(connection, shop.shop_id, batch):
                break
            batch = _taken_in(connection, shop.shop_id, batch, recipes[batch.recipe_id], row, now)
    return batch


def _waiting(connection: Connection, shop_id: int, batch: Batch) -> list[Row[Any]]:
    """Return the judged inspections of a batch that are no piece of it yet, the oldest first."""
    if batch.state is BatchState.CLOSED:
        return []
    placed = select(pressings.c.inspection_id).where(
        pressings.c.shop_id == shop_id, pressings.c.inspection_id.is_not(None)
    )
    wanted = select(inspections).where(
        inspections.c.shop_id == shop_id,
        inspections.c.batch_id == batch.number,
        inspections.c.verdict.in_(GRADES),
        inspections.c.peek.is_(False),
        inspections.c.id.not_in(placed),
    )
    return list(connection.execute(wanted.order_by(inspections.c.id)))


def _must_be_decided(connection: Connection, shop_id: int, batch: Batch) -> bool:
    started = batch.state is BatchState.STARTED
    return started and piece_of_pressing(connection, shop_id, batch) is not None


def _taken_in(  # noqa: PLR0913, PLR0917 (what a piece is made from)
    connection: Connection, shop_id: int, batch: Batch, recipe: Recipe, row: Row[Any], now: datetime
) -> Batch:
    photo = InspectedPhoto(
        row.photo_name,
        KeptFile(row.photo_sha256, 0, ""),
        InspectionResult(row.verdict, document=row.document),
    )
    entry = PieceEntry(pressed_at=row.received_at)
    pressing = replace(pressing_of(recipe, entry, photo, row.photo_sha256, now), inspection_id=row.id)
    try:
        return add_inspected(connection, shop_id, batch, pressing)
    except BatchInvalid:
        return batch
