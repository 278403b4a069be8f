"""The two ways a shop's data is kept and its work is told of, for tests that hold for both."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from sqlalchemy import Engine

from api.work import quick_inspector
from dyecast_api.store.database import engine_for, open_database
from dyecast_api.work.file_store import FileStore, open_file_store
from dyecast_api.work.sweeper import Sweeper
from dyecast_api.work.task_messages import TaskMessages, task_messages
from dyecast_api.work.worker_pool import WorkerPool
from dyecast_api.work.worker_process import WorkPlace
from servers.postgresql import PostgresqlServer, postgresql_server
from servers.rabbitmq import rabbitmq_broker

QUICK = f"{quick_inspector.__name__}:quick_inspector"


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgresqlServer]:
    with postgresql_server() as server:
        yield server


@pytest.fixture(scope="session")
def rabbitmq() -> Iterator[str]:
    with rabbitmq_broker() as url:
        yield url


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the file of a shop that was set up and never used, to be copied."""
    file = tmp_path_factory.mktemp("empty") / "shop.sqlite3"
    open_database(f"sqlite:///{file}").dispose()
    return file


@pytest.fixture(scope="session")
def empty_postgresql(postgresql: PostgresqlServer) -> str:
    """Return the name of the same in PostgreSQL."""
    url = postgresql.new_database()
    open_database(url).dispose()
    return url.rpartition("/")[2]


def new_shop(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the address of a fresh shop in the database that the parameter begins with."""
    if request.param.startswith("SQLite"):
        shutil.copy(request.getfixturevalue("empty_sqlite"), tmp_path / "shop.sqlite3")
        return f"sqlite:///{tmp_path}/shop.sqlite3"
    server: PostgresqlServer = request.getfixturevalue("postgresql")
    return server.new_database(request.getfixturevalue("empty_postgresql"))


@pytest.fixture(params=["SQLite", "PostgreSQL"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    opened = engine_for(new_shop(request, tmp_path))
    yield opened
    opened.dispose()


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return open_file_store(tmp_path / "files")


@dataclass(slots=True)
class Shop:
    """A shop whose photos are inspected by workers in processes of their own."""

    place: WorkPlace
    engine: Engine
    store: FileStore
    messages: TaskMessages | None = None
    pools: list[WorkerPool] = field(default_factory=list)
    sweepers: list[Sweeper] = field(default_factory=list)

    def start_workers(self, count: int = 1) -> WorkerPool:
        """Start workers, and a sweeper where messages tell of work."""
        pool = WorkerPool(self.place, count, rest_seconds=0.3).start()
        self.pools.append(pool)
        if self.place.broker_url is not None:
            sweeper = Sweeper(self.engine, self.place.broker_url, seconds=0.3)
            sweeper.start()
            self.sweepers.append(sweeper)
        return pool

    def stop(self) -> None:
        """Stop all that was started."""
        for sweeper in self.sweepers:
            sweeper.stop()
        for pool in self.pools:
            pool.stop()


@pytest.fixture(params=["SQLite and pool", "PostgreSQL and RabbitMQ"])
def shop(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]), prepend=":")
    url = new_shop(request, tmp_path)
    broker = request.getfixturevalue("rabbitmq") if "RabbitMQ" in request.param else None
    place = WorkPlace(url, str(tmp_path / "files"), broker, QUICK, lease_seconds=1.5)
    opened = Shop(place, engine_for(url), open_file_store(place.files))
    if broker is not None:
        opened.messages = task_messages(broker)
    yield opened
    opened.stop()
    if opened.messages is not None:
        opened.messages.close()
    opened.engine.dispose()
