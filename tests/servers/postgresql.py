"""A PostgreSQL server of the test's own: on a free port, in a temporary folder, gone afterwards."""

import itertools
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import create_engine
from sqlalchemy.exc import OperationalError

from servers.debian_programs import free_port, needed_program, temporary_place, user_to_run_as

HURRIED = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "unix_socket_directories=")
"""Settings of a server whose data nobody will miss."""


@dataclass(slots=True)
class PostgresqlServer:
    """A running server, and how to make databases in it."""

    port: int
    numbers: Iterator[int] = field(default_factory=itertools.count)

    def new_database(self, template: str = "template1") -> str:
        """Make a database, empty or a copy of another one that nobody uses; return its address."""
        name = f"shop_{next(self.numbers)}"
        engine = create_engine(self.address("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE {template}")
        engine.dispose()
        return self.address(name)

    def address(self, database: str) -> str:
        """Return the address of a database."""
        return f"postgresql+psycopg://tester@127.0.0.1:{self.port}/{database}"


@contextmanager
def postgresql_server() -> Iterator[PostgresqlServer]:
    """Run a server; skip the test when Debian's package is not installed."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    initdb = needed_program("initdb", "postgresql", *places)
    user = user_to_run_as("postgres")
    with temporary_place(user) as folder:
        data, port = folder / "data", free_port()
        making = [
            str(initdb),
            "-D",
            str(data),
            "-U",
            "tester",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-sync",
            "--locale=C",
        ]
        subprocess.run(making, user=user, cwd=folder, check=True, capture_output=True)
        options = [word for setting in HURRIED for word in ("-c", setting)]
        command = [
            str(initdb.with_name("postgres")),
            "-D",
            str(data),
            "-h",
            "127.0.0.1",
            "-p",
            str(port),
            *options,
        ]
        with (folder / "log").open("wb") as log:
            process = subprocess.Popen(command, user=user, cwd=folder, stdout=log, stderr=log)
        try:
            server = PostgresqlServer(port)
            _wait(server)
            yield server
        finally:
            process.send_signal(signal.SIGINT)  # fast shutdown
            process.wait(30)


def _wait(server: PostgresqlServer) -> None:
    """Wait until the server answers."""
    engine = create_engine(server.address("postgres"))
    for _ in range(200):
        try:
            engine.connect().close()
        except OperationalError:
            time.sleep(0.05)
        else:
            engine.dispose()
            return
    raise TimeoutError("PostgreSQL did not start")
