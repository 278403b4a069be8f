"""A worker in this process: what it does with photos, faults, full disks and busy databases."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine

from api.work.pieces_of_work import row_of, rows_of, send, until
from api.work.quick_inspector import quick_inspector
from dyecast_api.work import worker as worker_module
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.queue import Claimed, InspectionResult, claim
from dyecast_api.work.worker import Worker, memory_bytes, run_worker
from dyecast_shared.errors import CardNotFound, StoreUnavailable

Say = Callable[[str], None]


@pytest.fixture(autouse=True)
def no_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker_module, "REST_SECONDS", 0.01)


def test_everything_that_waits_is_inspected_and_the_time_it_took_is_kept(
    engine: Engine, store: FileStore
) -> None:
    for seed in range(3):
        send(engine, store, seed)
    run_worker(Worker(engine, quick_inspector(engine, store), "worker"), until_empty=True)
    rows = rows_of(engine)
    assert [row.verdict for row in rows] == ["good"] * 3
    assert [row.document["photo"] for row in rows] == ["piece-0.jpg", "piece-1.jpg", "piece-2.jpg"]
    assert all(row.seconds > 0 for row in rows)


def test_what_is_wrong_with_a_photo_becomes_its_problem(engine: Engine, store: FileStore) -> None:
    def inspect(_claimed: Claimed, _say: Say) -> InspectionResult:
        raise CardNotFound("No card was seen.", file="piece.jpg")

    accepted = send(engine, store)
    run_worker(Worker(engine, inspect, "worker"), until_empty=True)
    row = row_of(engine, accepted.inspection_id)
    assert row.verdict == "trouble"
    assert row.problem == {
        "code": "card-not-found",
        "message": "No card was seen.",
        "advice": CardNotFound.default_advice,
        "file": "piece.jpg",
    }


def test_a_fault_nobody_foresaw_ends_one_inspection_and_not_the_worker(
    engine: Engine, store: FileStore
) -> None:
    def inspect(claimed: Claimed, _say: Say) -> InspectionResult:
        if claimed.photo_name == "piece-0.jpg":
            raise ZeroDivisionError
        return InspectionResult("good", document={})

    for seed in range(2):
        send(engine, store, seed)
    run_worker(Worker(engine, inspect, "worker"), until_empty=True)
    failed, good = rows_of(engine)
    assert failed.problem["code"] == "inspection-failed"
    assert "ZeroDivisionError" in failed.problem["message"]
    assert good.verdict == "good"


def test_a_full_disk_puts_the_photo_back_until_there_is_room(engine: Engine, store: FileStore) -> None:
    refusals = iter(range(5))

    def inspect(_claimed: Claimed, _say: Say) -> InspectionResult:
        if next(refusals, None) is not None:
            raise StoreUnavailable("The file could not be kept.")
        return InspectionResult("good", document={})

    accepted = send(engine, store)
    run_worker(Worker(engine, inspect, "worker"), until_empty=True)
    row = row_of(engine, accepted.inspection_id)
    assert (row.verdict, row.attempt) == ("good", 1)


def test_a_long_inspection_keeps_its_lease_and_tells_its_stage(engine: Engine, store: FileStore) -> None:
    def inspect(_claimed: Claimed, say: Say) -> InspectionResult:
        say("finding the card")
        until(lambda: rows_of(engine)[0].stage == "finding the card")
        time.sleep(0.9)  # three leases long
        assert claim(engine, datetime.now(UTC), 10) is None
        return InspectionResult("good", document={})

    send(engine, store)
    run_worker(Worker(engine, inspect, "worker", lease_seconds=0.3), until_empty=True)
    (row,) = rows_of(engine)
    assert (row.verdict, row.attempt, row.stage) == ("good", 1, None)


def test_a_worker_told_to_stop_finishes_what_it_has_in_hand_and_takes_nothing_more(
    engine: Engine, store: FileStore
) -> None:
    stop = threading.Event()

    def inspect(_claimed: Claimed, _say: Say) -> InspectionResult:
        stop.set()
        return InspectionResult("good", document={})

    for seed in range(2):
        send(engine, store, seed)
    run_worker(Worker(engine, inspect, "worker", stop=stop))
    assert [row.verdict for row in rows_of(engine)] == ["good", None]


def test_a_worker_that_holds_too_much_memory_ends_for_a_fresh_one(
    engine: Engine, store: FileStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "MOST_MEMORY_BYTES", 1)
    for seed in range(2):
        send(engine, store, seed)
    assert memory_bytes() > 1_000_000
    run_worker(Worker(engine, quick_inspector(engine, store), "worker"))
    assert [row.verdict for row in rows_of(engine)] == ["good", None]
