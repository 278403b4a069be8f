"""What pages and the HTTP interface do with a shop's batches: the same steps for both."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import IntegrityError

from dyecast_api.batches.batch_rows import add_batch, batch_numbered
from dyecast_api.batches.batch_steps import Decision, close_batch
from dyecast_api.batches.batch_values import Batch
from dyecast_api.batches.bench_pieces import take_in_bench_pieces
from dyecast_api.batches.closing import closed_with_certificate
from dyecast_api.batches.kept_artwork import newest_version
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.batches.starting import BatchOrder, started_batch
from dyecast_api.batches.whole_batch import WholeBatch, whole_batch
from dyecast_api.press_log.log_rows import all_recipes
from dyecast_api.records.artwork_records import find_artwork
from dyecast_api.server.state import ServerState
from dyecast_api.store.database import reading, writing
from dyecast_shared.errors import BatchInvalid
from dyecast_shared.request_errors import NameTaken, NotFound

Step = Callable[[Connection, int, Batch, Decision], Batch]
"""A decision on a first piece."""


def shop_of(server: ServerState, shop_id: int) -> OpenedShop:
    """Return one shop of the server."""
    return OpenedShop(server.engine, server.files, shop_id)


def batch_of(server: ServerState, shop_id: int, number: int) -> Batch:
    """Return a batch of a shop; raise NotFound when it has no such."""
    with reading(server.engine) as connection:
        batch = batch_numbered(connection, shop_id, number)
    if batch is None:
        raise NotFound("There is no such batch.")
    return batch


def up_to_date(server: ServerState, shop_id: int, number: int) -> Batch:
    """Return a batch after what the bench inspected for it was taken in; raises NotFound."""
    batch = batch_of(server, shop_id, number)
    return take_in_bench_pieces(shop_of(server, shop_id), batch, server.clock())


def whole_of(server: ServerState, shop_id: int, number: int) -> WholeBatch:
    """Read a batch with all that belongs to it up to now; raises NotFound."""
    return whole_batch(shop_of(server, shop_id), up_to_date(server, shop_id, number).name)


def start(server: ServerState, shop_id: int, recipe: int, artwork: int, order: BatchOrder) -> Batch:
    """Start a batch; raises NotFound for a recipe or artwork that the shop does not have, BatchInvalid."""
    with kept_once(server.engine) as connection:
        if all(one.number != recipe for one in all_recipes(connection, shop_id)):
            raise NotFound("There is no such recipe.", advice="Choose another recipe.")
        record = find_artwork(connection, shop_id, artwork)
        if record is None:
            raise NotFound("There is no such artwork.", advice="Choose another artwork.")
        batch = started_batch(order, recipe, newest_version(record), server.clock())
        return add_batch(connection, shop_id, batch)


def decide(server: ServerState, shop_id: int, number: int, step: Step, decision: Decision) -> None:
    """Approve or hold the first piece; raises what the step does, and NotFound."""
    seen = up_to_date(server, shop_id, number)
    with writing(server.engine) as connection:
        step(connection, shop_id, seen, decision)


def close(
    server: ServerState, shop_id: int, number: int, decision: Decision, *, give_up: bool = False
) -> None:
    """Close a batch with its certificate, or give it up for a reason; raises BatchInvalid, BatchChanged."""
    seen = up_to_date(server, shop_id, number)
    if not give_up:
        closed_with_certificate(shop_of(server, shop_id), seen.name, decision)
        return
    if not decision.reason.strip():
        raise BatchInvalid("A batch is given up for a reason.", advice="Say why.", field="reason")
    with writing(server.engine) as connection:
        close_batch(connection, shop_id, seen, decision, None)


@contextmanager
def kept_once(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that adds something named; raises NameTaken when somebody else was quicker."""
    try:
        with writing(engine) as connection:
            yield connection
    except IntegrityError as problem:
        raise NameTaken("There is something of this name already.") from problem
