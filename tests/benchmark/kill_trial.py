"""The trial by killing with real inspections: photos of made scenes, the whole pipeline, either database.

    python tests/benchmark/kill_trial.py --photos 200 --kills 20
    python tests/benchmark/kill_trial.py --photos 200 --kills 20 --servers

`--servers` starts PostgreSQL and RabbitMQ from Debian's packages. A test in `tests/api/work` runs the same
with inspections that answer at once.
"""

import argparse
import os
import sys
import tempfile
from collections import Counter
from contextlib import ExitStack
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from PIL import Image
from sqlalchemy import insert

from api.work.kill_trial import Outcome, Trial, run_trial
from api.work.pieces_of_work import NOON, rows_of, shop_of
from dyecast_api.store.artwork_tables import artwork_versions, artworks
from dyecast_api.store.database import open_database, writing
from dyecast_api.work.file_store import open_file_store
from dyecast_api.work.sweeper import Sweeper
from dyecast_api.work.worker_process import WorkPlace
from inspected_scenes import piece_scene
from scenes.render import render, write_photo
from servers.postgresql import postgresql_server
from servers.rabbitmq import rabbitmq_broker

DOSES = (0.6, 0.8, 1.0, 1.2, 1.65)
"""Pressings of the photos that are sent in turn; 1 is right."""


def make_photos(folder: Path) -> Path:
    """Render a photo for each dose; return the artwork's file."""
    folder.mkdir()
    for dose in DOSES:
        write_photo(folder / f"dose-{dose}.jpg", render(piece_scene(dose), 1))
    artwork = folder.parent / "artwork.png"
    piece = piece_scene().piece
    assert piece is not None
    Image.fromarray(piece.artwork).save(artwork)
    return artwork


def run(given: argparse.Namespace, folder: Path, stack: ExitStack) -> Outcome:
    """Set a shop up and run the trial in it."""
    database, broker = f"sqlite:///{folder}/shop.sqlite3", None
    if given.servers:
        database = stack.enter_context(postgresql_server()).new_database()
        broker = stack.enter_context(rabbitmq_broker())
    place = WorkPlace(database, str(folder / "files"), broker, lease_seconds=given.lease)
    engine, store = open_database(database), open_file_store(place.files)
    artwork = make_photos(folder / "photos")
    shop = {"shop_id": shop_of(engine), "created_at": NOON}
    with writing(engine) as connection:
        connection.execute(insert(artworks).values(name="label", **shop))
        version = {"artwork_id": 1, "number": 1, "file_name": "label.png", **shop}
        connection.execute(
            insert(artwork_versions).values(file_sha256=store.keep(artwork.read_bytes()), **version)
        )
    if broker is not None:
        sweeper = Sweeper(engine, broker, seconds=1.0)
        sweeper.start()
        stack.callback(sweeper.stop)
    half = given.kills // 2
    trial = Trial(
        photos=str(folder / "photos"),
        artwork_version_id=1,
        count=given.photos,
        client_kills=half,
        worker_kills=given.kills - half,
        worker_kill_pause=given.pause,
        client_pause=0.2,
        workers=given.workers,
    )
    outcome = run_trial(place, engine, trial, folder)
    seconds = sorted(row.seconds for row in rows_of(engine))
    print(f"one inspection: median {seconds[len(seconds) // 2]:.2f} s, longest {seconds[-1]:.2f} s")
    return outcome


def main() -> None:
    """Run the trial and print what was lost, doubled or tried again."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--lease", type=float, default=10.0)
    parser.add_argument(
        "--pause", type=float, default=6.0, help="longest time between two kills of workers, s"
    )
    parser.add_argument("--servers", action="store_true")
    given = parser.parse_args()
    os.environ["PYTHONPATH"] = os.pathsep.join(
        [str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    )
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        outcome = run(given, Path(folder), stack)
    print(f"{outcome.seconds} s, {outcome.worker_kills} workers and {outcome.client_kills} clients killed")
    print(f"acknowledged: {len(outcome.acknowledged)}, verdicts: {dict(Counter(outcome.verdicts))}")
    print(
        f"attempts: {dict(sorted(Counter(outcome.attempts).items()))}, problems: {outcome.problems or 'none'}"
    )


if __name__ == "__main__":
    main()
