"""How long lists of inspections take in the database: ``python tests/benchmark/list_rows.py``."""

import argparse
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Connection, Engine, insert

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.tables import Cell, Table, markdown
from dyecast_api.records.artwork_records import NewVersion, add_artwork
from dyecast_api.records.inspection_records import VERDICTS, InspectionFilter, list_inspections
from dyecast_api.store.database import first_shop_id, open_database, reading, writing
from dyecast_api.store.inspection_tables import inspections

ROUNDS = 9
BLOCK = 5000
BEGIN = datetime(2026, 1, 1, tzinfo=UTC)

DOCUMENT = {"verdict": "good", "reasons": [{"code": "x", "sentence": "y" * 60}] * 40}
"""As long as a real document: some 4 kB."""

ASKED = {
    "newest page": InspectionFilter(),
    "one verdict": InspectionFilter(verdict="over-pressed"),
    "one artwork": InspectionFilter(artwork_id=3),
    "photo named often": InspectionFilter(search="piece"),
    "photo named once": InspectionFilter(search="piece-17.jpg"),
    "photo named never": InspectionFilter(search="nothing like it"),
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Fill a database, ask for pages, print the medians."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--database", help="address of an empty database; else SQLite in a temporary folder")
    order = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        engine = open_database(order.database or f"sqlite:///{folder}/shop.sqlite3")
        fill(engine, order.rows)
        rows: list[tuple[Cell, ...]] = [
            (name, 1000 * _median(engine, asked)) for name, asked in ASKED.items()
        ]
        rows.append(("a page far down", 1000 * _median(engine, InspectionFilter(), order.rows // 2)))
        engine.dispose()
    print(markdown(Table(f"Pages of 50 from {order.rows} inspections, ms", ("asked", "median"), tuple(rows))))
    return 0


def fill(engine: Engine, count: int) -> None:
    """Write finished inspections of five artworks."""
    with writing(engine) as connection:
        shop = first_shop_id(connection)
        for number in range(5):
            add_artwork(connection, shop, f"artwork {number}", NewVersion("a.png", "0" * 64), BEGIN)
    for start in range(0, count, BLOCK):
        with writing(engine) as connection:
            _write(connection, shop, range(start, min(start + BLOCK, count)))


def _write(connection: Connection, shop: int, numbers: range) -> None:
    rows = [
        {
            "shop_id": shop,
            "public_id": f"{number:032x}",
            "artwork_version_id": number % 5 + 1,
            "photo_sha256": f"{number:064x}",
            "photo_name": f"piece-{number}.jpg",
            "received_at": BEGIN + timedelta(seconds=number),
            "finished_at": BEGIN + timedelta(seconds=number + 2),
            "verdict": VERDICTS[number % len(VERDICTS)],
            "document": DOCUMENT,
            "pictures": {"piece": "0" * 64},
        }
        for number in numbers
    ]
    connection.execute(insert(inspections), rows)


def _median(engine: Engine, asked: InspectionFilter, before_id: int | None = None) -> float:
    """Return the median seconds of one page, connection included."""
    seconds = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        with reading(engine) as connection:
            list_inspections(connection, 1, asked, before_id=before_id)
        seconds.append(time.perf_counter() - began)
    return sorted(seconds)[ROUNDS // 2]


if __name__ == "__main__":
    sys.exit(main())
