"""The queue of inspections: each taken by one worker at a time and finished once, on either database."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

from sqlalchemy import Engine

from api.work.pieces_of_work import NOON, row_of, rows_of, send
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.queue import (
    MOST_ATTEMPTS,
    InspectionResult,
    claim,
    extend_lease,
    finish,
    free_leases,
    give_up,
    release,
    set_stage,
    waiting_count,
    waiting_ids,
)

GOOD = InspectionResult("good", document={"verdict": "good"}, confidence=0.9, seconds=1.2)
LATER = NOON + timedelta(seconds=11)


def test_an_empty_queue_gives_nothing(engine: Engine) -> None:
    assert claim(engine, NOON, 10) is None
    assert waiting_count(engine) == 0


def test_the_oldest_photo_comes_first_and_only_once(engine: Engine, store: FileStore) -> None:
    sent = [send(engine, store, seed).inspection_id for seed in range(2)]
    assert waiting_ids(engine, NOON) == sent
    claimed = [claim(engine, NOON, 10), claim(engine, NOON, 10), claim(engine, NOON, 10)]
    assert [each and each.id for each in claimed] == [*sent, None]
    assert waiting_count(engine) == 2  # in hand is not done


def test_many_workers_at_once_take_each_photo_once(engine: Engine, store: FileStore) -> None:
    sent = [send(engine, store, seed).inspection_id for seed in range(12)]
    with ThreadPoolExecutor(6) as threads:
        claimed = list(threads.map(lambda _: claim(engine, NOON, 10), range(24)))
    taken = [each.id for each in claimed if each is not None]
    assert len(taken) == len(set(taken))
    while (more := claim(engine, NOON, 10)) is not None:  # a row passed over while it was locked
        taken.append(more.id)
    assert sorted(taken) == sent


def test_a_result_is_written_once_and_ends_the_waiting(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    claimed = claim(engine, NOON, 10)
    assert claimed is not None
    assert finish(engine, claimed, GOOD, LATER)
    assert not finish(engine, claimed, GOOD, LATER)
    row = row_of(engine, claimed.id)
    assert (row.verdict, row.document, row.confidence, row.seconds) == (
        "good",
        {"verdict": "good"},
        0.9,
        1.2,
    )
    assert (row.finished_at, row.lease_until, row.worker, row.problem) == (LATER, None, None, None)
    assert claim(engine, LATER, 10) is None


def test_a_worker_believed_dead_cannot_write_over_its_successor(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    first = claim(engine, NOON, 10)
    second = claim(engine, LATER, 10)
    assert first is not None
    assert second is not None
    assert (first.attempt, second.attempt) == (1, 2)
    assert not finish(engine, first, GOOD, LATER)
    assert not extend_lease(engine, first, LATER, 10)
    assert finish(engine, second, GOOD, LATER)


def test_a_worker_that_lives_keeps_what_it_holds(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    claimed = claim(engine, NOON, 10)
    assert claimed is not None
    assert extend_lease(engine, claimed, NOON + timedelta(seconds=9), 10)
    assert claim(engine, LATER, 10) is None
    assert set_stage(engine, claimed, "finding the piece")
    assert row_of(engine, claimed.id).stage == "finding the piece"


def test_what_a_dead_worker_held_is_free_at_once(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    claim(engine, NOON, 10, worker="first")
    assert free_leases(engine, "another") == 0
    assert free_leases(engine, "first") == 1
    again = claim(engine, NOON, 10, worker="second")
    assert again is not None
    assert again.attempt == 2


def test_a_photo_put_back_untried_does_not_count_as_an_attempt(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    for _ in range(2 * MOST_ATTEMPTS):
        claimed = claim(engine, NOON, 10)
        assert claimed is not None
        assert claimed.attempt == 1
        assert release(engine, claimed)


def test_a_photo_that_ends_its_workers_ends_as_a_problem_and_does_not_hold_up_the_rest(
    engine: Engine, store: FileStore
) -> None:
    fatal, fresh = (send(engine, store, seed).inspection_id for seed in range(2))
    first = claim(engine, NOON, 10, worker="dies")
    free_leases(engine, "dies")
    after = claim(engine, NOON, 10)
    assert first is not None
    assert after is not None
    assert (first.id, after.id) == (fatal, fresh)
    assert finish(engine, after, GOOD, NOON)
    for attempt in range(1, MOST_ATTEMPTS):
        assert give_up(engine, NOON + timedelta(seconds=20 * attempt)) == 0
        assert claim(engine, NOON + timedelta(seconds=20 * attempt), 10) is not None
    end = NOON + timedelta(hours=1)
    assert claim(engine, end, 10) is None
    assert give_up(engine, end) == 1
    row = row_of(engine, fatal)
    assert row.verdict == "trouble"
    assert row.problem["code"] == "inspection-failed"
    assert row.finished_at == end


def test_the_pictures_of_a_result_are_recorded_with_it(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    claimed = claim(engine, NOON, 10)
    assert claimed is not None
    picture = KeptFile("ab" * 32, 3, "image/jpeg")
    result = InspectionResult("good", document={}, pictures={"piece": picture, "artwork": picture})
    assert finish(engine, claimed, result, LATER)
    assert rows_of(engine)[0].pictures == {"piece": picture.sha256, "artwork": picture.sha256}
