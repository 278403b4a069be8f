"""Workers in processes of their own, in both ways: one machine alone, and PostgreSQL with a broker."""

import os
import signal
import subprocess
import sys
from pathlib import Path

from api.work.conftest import Shop
from api.work.pieces_of_work import rows_of, send, until
from dyecast_api.work.queue import MOST_ATTEMPTS, waiting_count


def is_running(process_id: int) -> bool:
    """Tell whether a process is there and not merely waiting to be forgotten."""
    try:
        state = Path(f"/proc/{process_id}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def accept(shop: Shop, seed: int, name: str = "piece.jpg") -> None:
    accepted = send(shop.engine, shop.store, seed, photo_name=name)
    if shop.messages is not None:
        shop.messages.tell(accepted.inspection_id)


def all_done(shop: Shop) -> bool:
    return waiting_count(shop.engine) == 0


def test_photos_accepted_before_and_while_workers_run_are_all_inspected_once(shop: Shop) -> None:
    for seed in range(5):
        accept(shop, seed)
    pool = shop.start_workers(2)
    for seed in range(5, 10):
        accept(shop, seed)
        pool.wake()
    until(lambda: all_done(shop))
    assert [(row.verdict, row.attempt) for row in rows_of(shop.engine)] == [("good", 1)] * 10


def test_a_killed_worker_is_replaced_and_what_it_had_in_hand_is_inspected_again(shop: Shop) -> None:
    accept(shop, 0, "slow.jpg")
    pool = shop.start_workers()
    (victim,) = pool.process_ids().values()
    until(lambda: rows_of(shop.engine)[0].attempt == 1)
    os.kill(victim, signal.SIGKILL)
    until(lambda: all_done(shop))
    (row,) = rows_of(shop.engine)
    assert (row.verdict, row.attempt) == ("good", 2)
    assert victim not in pool.process_ids().values()


def test_a_photo_that_kills_its_workers_ends_as_a_problem_after_the_others_are_done(shop: Shop) -> None:
    accept(shop, 0, "fatal.jpg")
    accept(shop, 1)
    shop.start_workers()
    until(lambda: all_done(shop))
    fatal, fine = rows_of(shop.engine)
    assert (fatal.verdict, fatal.attempt, fatal.problem["code"]) == (
        "trouble",
        MOST_ATTEMPTS,
        "inspection-failed",
    )
    assert fine.verdict == "good"
    assert fine.finished_at < fatal.finished_at


def test_a_pool_that_stops_lets_its_workers_finish_and_leaves_the_rest_waiting(shop: Shop) -> None:
    accept(shop, 0, "slow.jpg")
    pool = shop.start_workers()
    until(lambda: rows_of(shop.engine)[0].attempt == 1)
    accept(shop, 1)
    workers = pool.process_ids().values()
    shop.stop()
    assert not any(map(is_running, workers))
    assert [(row.verdict, row.attempt) for row in rows_of(shop.engine)] == [("good", 1), (None, 0)]


PARENT = """
import sys, time
from dyecast_api.work.worker_pool import WorkerPool
from dyecast_api.work.worker_process import WorkPlace
pool = WorkerPool(WorkPlace(*sys.argv[1:3], None, sys.argv[3]), 1).start()
print(*pool.process_ids().values(), flush=True)
time.sleep(60)
"""


def test_workers_end_when_their_parent_is_killed_and_the_next_ones_go_on(shop: Shop) -> None:
    accept(shop, 0, "slow.jpg")
    accept(shop, 1, "slow.jpg")
    place = shop.place
    command = [sys.executable, "-c", PARENT, place.database_url, place.files, place.inspector]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        workers = [int(word) for word in parent.stdout.readline().split()]
        assert len(workers) == 1
        until(lambda: rows_of(shop.engine)[0].attempt == 1)
        parent.kill()
    until(lambda: not any(map(is_running, workers)))
    assert [row.verdict for row in rows_of(shop.engine)] == ["good", None]
    shop.start_workers()
    until(lambda: all_done(shop))
    assert [(row.verdict, row.attempt) for row in rows_of(shop.engine)] == [("good", 1)] * 2
