"""The queue of inspections: their own rows, taken for a while, finished once.

A worker takes the next waiting row by one statement that sets a lease and raises `attempt`. Whoever finishes
must still hold that attempt, so a worker that was believed dead cannot write over its successor. The same
statements run on SQLite, where every writer waits its turn, and on PostgreSQL, where rows that another worker
is taking are passed over.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import ColumnElement, Engine, func, or_, select, update
from sqlalchemy.sql.dml import ReturningUpdate

from dyecast_api.store.database import reading, writing
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_shared.errors import DyecastError, InspectionFailed

LEASE_SECONDS: Final = 10.0
"""How long a worker may be silent; it extends its lease three times as often. Inspections take one to three
seconds, and a busy machine may make a worker wait; a worker that died costs its photo this long at most."""

MOST_ATTEMPTS: Final = 3
"""How often a photo is begun. One that ends its worker three times would do so for ever. Our own choice."""

TROUBLE: Final = "trouble"
"""Verdict of an inspection that has a problem and no document."""


@dataclass(frozen=True, slots=True)
class Claimed:
    """An inspection in a worker's hands; `attempt` counts from 1."""

    id: int
    shop_id: int
    public_id: str
    attempt: int
    photo_sha256: str
    photo_name: str
    artwork_version_id: int | None
    batch_id: int | None
    paper: str
    peek: bool


@dataclass(frozen=True, slots=True)
class InspectionResult:
    """What is written into a finished row: a document, or a problem with code, message, advice and file.

    Attributes
    ----------
    verdict
        As in the inspection document, ``trouble`` when there is only a problem.
    document, problem
        One of the two.
    confidence, delta_e_2000_median, transferred_fraction, seconds
        Figures for lists; None when not known. Seconds the inspection took.
    pictures
        What pages show, by name; already in the store.
    """

    verdict: str
    document: Mapping[str, Any] | None = None
    problem: Mapping[str, Any] | None = None
    confidence: float | None = None
    delta_e_2000_median: float | None = None
    transferred_fraction: float | None = None
    seconds: float | None = None
    pictures: Mapping[str, KeptFile] = field(default_factory=dict)


def claim(
    engine: Engine,
    now: datetime,
    lease_seconds: float = LEASE_SECONDS,
    *,
    worker: str | None = None,
) -> Claimed | None:
    """Take the next waiting inspection for some seconds; None when there is none.

    Photos begun least often come first, then the oldest: one that ends its workers does not hold up the rest.
    Raises StoreUnavailable.
    """
    waiting = select(inspections.c.id).where(_is_waiting(now), inspections.c.attempt < MOST_ATTEMPTS)
    first = waiting.order_by(inspections.c.attempt, inspections.c.id).limit(1)
    taking = (
        update(inspections)
        .where(inspections.c.id == first.with_for_update(skip_locked=True).scalar_subquery())
        .values(
            attempt=inspections.c.attempt + 1,
            lease_until=now + timedelta(seconds=lease_seconds),
            worker=worker,
            stage=None,
        )
        .returning(inspections)
    )
    with reading(engine) as connection:  # looking makes no writer wait
        if connection.execute(first).first() is None:
            return None
    return _taken(engine, taking)


def _taken(engine: Engine, taking: ReturningUpdate[Any]) -> Claimed | None:
    """Run the statement that takes a row; return what it took."""
    with writing(engine) as connection:
        row = connection.execute(taking).first()
    if row is None:
        return None
    return Claimed(
        id=row.id,
        shop_id=row.shop_id,
        public_id=row.public_id,
        attempt=row.attempt,
        photo_sha256=row.photo_sha256,
        photo_name=row.photo_name,
        artwork_version_id=row.artwork_version_id,
        batch_id=row.batch_id,
        paper=row.paper,
        peek=row.peek,
    )


def extend_lease(
    engine: Engine, claimed: Claimed, now: datetime, lease_seconds: float = LEASE_SECONDS
) -> bool:
    """Hold an inspection for longer; False when it is no longer this worker's."""
    return _write(engine, claimed, {"lease_until": now + timedelta(seconds=lease_seconds)})


def set_stage(engine: Engine, claimed: Claimed, stage: str) -> bool:
    """Say in a short word what is being done; False when it is no longer this worker's."""
    return _write(engine, claimed, {"stage": stage[:40]})


def finish(engine: Engine, claimed: Claimed, result: InspectionResult, now: datetime) -> bool:
    """Write the result; False when another worker has taken the inspection over or finished it.

    Raises StoreUnavailable; the result is then not written and the inspection waits on.
    """
    values = {**_end(now), **result_columns(result)}
    with writing(engine) as connection:
        finished = connection.execute(update(inspections).where(_is_ours(claimed)).values(values)).rowcount
        if finished == 1:
            for kept in sorted(result.pictures.values(), key=lambda kept: kept.sha256):
                record_file(connection, claimed.shop_id, kept, now)
    return finished == 1


def result_columns(result: InspectionResult) -> dict[str, Any]:
    """Return what a result puts into its row; what is not known is left empty."""
    columns = {
        "verdict": result.verdict,
        "document": result.document,
        "problem": result.problem,
        "confidence": result.confidence,
        "delta_e_2000_median": result.delta_e_2000_median,
        "transferred_fraction": result.transferred_fraction,
        "seconds": result.seconds,
        "pictures": {name: kept.sha256 for name, kept in result.pictures.items()},
    }
    return {name: value for name, value in columns.items() if value is not None}


def release(engine: Engine, claimed: Claimed) -> bool:
    """Put an inspection back untried, for a reason that is none of the photo's (a full disk, a shutdown).

    The worker must not touch it afterwards: the next one gets the same attempt.
    """
    return _write(
        engine, claimed, {"attempt": claimed.attempt - 1, "lease_until": None, "worker": None, "stage": None}
    )


def free_leases(engine: Engine, worker: str) -> int:
    """End the leases of a worker that is known to be dead; return how many there were."""
    freeing = (
        update(inspections)
        .where(inspections.c.worker == worker, inspections.c.finished_at.is_(None))
        .values(lease_until=None, worker=None, stage=None)
    )
    with writing(engine) as connection:
        return int(connection.execute(freeing).rowcount)


def give_up(engine: Engine, now: datetime, most_attempts: int = MOST_ATTEMPTS) -> int:
    """Finish with a problem what was begun too often and is in nobody's hands; return how many there were."""
    hopeless = (_is_waiting(now), inspections.c.attempt >= most_attempts)
    with reading(engine) as connection:
        if connection.execute(select(inspections.c.id).where(*hopeless).limit(1)).first() is None:
            return 0
    problem = problem_of(
        InspectionFailed(f"The inspection was begun {most_attempts} times and broke off each time.")
    )
    giving_up = update(inspections).where(*hopeless)
    with writing(engine) as connection:
        done = connection.execute(giving_up.values(**_end(now), verdict=TROUBLE, problem=problem))
        return int(done.rowcount)


def waiting_count(engine: Engine, shop_id: int | None = None) -> int:
    """Return how many inspections are not finished, those in a worker's hands among them."""
    counting = select(func.count()).select_from(inspections).where(inspections.c.finished_at.is_(None))
    if shop_id is not None:
        counting = counting.where(inspections.c.shop_id == shop_id)
    with reading(engine) as connection:
        return int(connection.execute(counting).scalar_one())


def waiting_ids(engine: Engine, now: datetime) -> list[int]:
    """Return the inspections that nobody works on, in the order they would be taken."""
    waiting = select(inspections.c.id).where(_is_waiting(now))
    with reading(engine) as connection:
        return list(connection.execute(waiting.order_by(inspections.c.attempt, inspections.c.id)).scalars())


def problem_of(error: DyecastError) -> dict[str, str]:
    """Return an error as a row keeps it."""
    return {"code": error.code, "message": error.message, "advice": error.advice, "file": error.file}


def _is_waiting(now: datetime) -> ColumnElement[bool]:
    """Return the condition that an inspection is not finished and in nobody's hands."""
    lease = inspections.c.lease_until
    return inspections.c.finished_at.is_(None) & or_(lease.is_(None), lease < now)


def _is_ours(claimed: Claimed) -> ColumnElement[bool]:
    """Return the condition that a row is still in the hands that took it."""
    return (
        (inspections.c.id == claimed.id)
        & (inspections.c.attempt == claimed.attempt)
        & inspections.c.finished_at.is_(None)
    )


def _end(now: datetime) -> dict[str, Any]:
    return {"finished_at": now, "lease_until": None, "worker": None, "stage": None}


def _write(engine: Engine, claimed: Claimed, values: Mapping[str, Any]) -> bool:
    """Write into a claimed row; False when it is no longer this worker's."""
    with writing(engine) as connection:
        return connection.execute(update(inspections).where(_is_ours(claimed)).values(values)).rowcount == 1
