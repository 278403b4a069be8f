"""A batch with all that belongs to it, read at one moment."""

import contextlib
from dataclasses import dataclass

from dyecast_api.batches.batch_charts import BatchCharts, batch_charts
from dyecast_api.batches.batch_pieces import pieces_of
from dyecast_api.batches.batch_rows import batch_named
from dyecast_api.batches.batch_series import counted_pieces
from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState
from dyecast_api.batches.lot_acceptance import acceptance_of, acceptance_words
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes
from dyecast_api.press_log.log_values import Blank, Press, Recipe
from dyecast_api.store.database import reading
from dyecast_shared.errors import FileMissing


@dataclass(frozen=True, slots=True)
class WholeBatch:
    """A batch, how it is pressed, its pieces by number, and its charts.

    `counted` are the pieces from the approved first piece on.
    """

    batch: Batch
    recipe: Recipe
    press: Press
    blank: Blank
    pieces: tuple[BatchPiece, ...]
    counted: tuple[BatchPiece, ...]
    charts: BatchCharts

    @property
    def first_piece(self) -> BatchPiece | None:
        """The first piece, approved or not."""
        wanted = self.batch.first_pressing_id
        return next((piece for piece in self.pieces if piece.pressing.number == wanted), None)

    @property
    def acceptance_sentence(self) -> str:
        """What the inspected pieces say of the lot; empty without lot acceptance."""
        decision = acceptance_of(self.batch, self.counted)
        return "" if decision is None else acceptance_words(decision, self.counted)

    @property
    def must_decide(self) -> bool:
        """Whether the first piece waits to be approved or held."""
        return self.batch.state is BatchState.STARTED and self.first_piece is not None

    @property
    def next_step(self) -> tuple[str, ...]:
        """What to do with the batch now."""
        if self.must_decide:
            return ("This is the first piece: look at it, then approve it or hold it.",)
        return (self.acceptance_sentence,) if self.acceptance_sentence else ()


def whole_batch(shop: OpenedShop, name: str) -> WholeBatch:
    """Read a batch; raises BatchInvalid when there is none of that name."""
    with reading(shop.engine) as connection:
        batch = batch_named(connection, shop.shop_id, name)
        pieces = pieces_of(connection, shop.shop_id, batch)
        recipes = {one.number: one for one in all_recipes(connection, shop.shop_id)}
        presses = {one.number: one for one in all_presses(connection, shop.shop_id)}
        blanks = {one.number: one for one in all_blanks(connection, shop.shop_id)}
    recipe = recipes[batch.recipe_id]
    return WholeBatch(
        batch,
        recipe,
        presses[recipe.press_id],
        blanks[recipe.blank_id],
        pieces,
        counted_pieces(batch, pieces),
        batch_charts(batch, pieces),
    )


def first_piece_pictures(shop: OpenedShop, whole: WholeBatch) -> dict[str, bytes]:
    """Return the first piece as measured and the artwork, JPEG by name; without those that are not there."""
    kept = {} if whole.first_piece is None else whole.first_piece.pictures
    found = {}
    for name in ("piece", "artwork"):
        with contextlib.suppress(FileMissing):
            found[name] = shop.store.read(kept.get(name, ""))
    return found
