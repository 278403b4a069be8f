"""A backup is not put back into a folder that somebody works in."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dyecast_api.store.data_lock import LOCK_NAME, data_alone, data_in_use
from dyecast_api.store.database import open_database
from dyecast_api.work.backup import write_backup
from dyecast_api.work.file_store import LocalFileStore
from dyecast_shared.errors import DataInUse, StoreUnavailable
from running_server import RunningServer

from .pieces_of_work import NOON

SQLITE = "sqlite:///shop.sqlite3"


@pytest.fixture(name="backup")
def backup_of_an_empty_shop(tmp_path: Path) -> Path:
    other = tmp_path / "other"
    database = f"sqlite:///{other}/shop.sqlite3"
    open_database(database).dispose()
    write_backup(tmp_path / "shop.zip", database, LocalFileStore(other / "files"), other, NOON)
    return tmp_path / "shop.zip"


def dyecast(folder: Path, *arguments: str) -> "subprocess.CompletedProcess[str]":
    """Run a command on a data folder, in a process of its own."""
    environment = {**os.environ, "DYECAST_DATA": str(folder)}
    command = [sys.executable, "-m", "dyecast_api", *arguments]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)


def restored_at_last(folder: Path, backup: Path) -> "subprocess.CompletedProcess[str]":
    """Restore as soon as the last worker of a killed server has ended."""
    deadline = time.monotonic() + 30
    while (told := dyecast(folder, "restore", str(backup), "--replace")).returncode:
        assert "is using the data folder" in told.stderr
        assert time.monotonic() < deadline
    return told


def test_a_running_server_keeps_its_folder_and_a_killed_one_gives_it_up(tmp_path: Path, backup: Path) -> None:
    server = RunningServer(tmp_path, 1)
    server.start()
    folder = tmp_path / "data"
    before = (folder / "shop.sqlite3").stat().st_ino
    refused = dyecast(folder, "restore", str(backup), "--replace")
    assert refused.returncode == 2
    assert "A server or worker is using the data folder. Stop the server" in refused.stderr
    assert (folder / "shop.sqlite3").stat().st_ino == before
    assert [path.name for path in tmp_path.glob("*data*")] == ["data"]  # none moved aside or half-built
    server.kill()
    assert "What was there before is in" in restored_at_last(folder, backup).stdout
    server.start()
    assert server.stop() == 0


def test_a_running_worker_keeps_the_folder_too(tmp_path: Path, backup: Path) -> None:
    folder = tmp_path / "data"
    environment = {**os.environ, "DYECAST_DATA": str(folder)}
    command = [sys.executable, "-m", "dyecast_api", "worker"]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as worker:
        assert worker.stdout is not None
        worker.stdout.readline()
        assert dyecast(folder, "restore", str(backup), "--replace").returncode == 2
        worker.terminate()
    assert dyecast(folder, "restore", str(backup), "--replace").returncode == 0


def test_many_work_side_by_side_and_nobody_begins_while_the_folder_is_replaced(tmp_path: Path) -> None:
    with data_in_use(tmp_path, SQLITE), data_in_use(tmp_path, SQLITE):
        with pytest.raises(DataInUse) as caught, data_alone(tmp_path):
            pass
        assert caught.value.code == "data-in-use"
    with (
        data_alone(tmp_path),
        pytest.raises(DataInUse, match="being put back"),
        data_in_use(tmp_path, SQLITE),
    ):
        pass
    with data_in_use(tmp_path, SQLITE):
        pass


def test_a_folder_nobody_ever_worked_in_is_free_and_another_database_needs_no_lock(tmp_path: Path) -> None:
    with data_alone(tmp_path / "missing"):
        assert not (tmp_path / "missing").exists()
    with data_in_use(tmp_path, "postgresql+psycopg://shop@localhost/dyecast"):
        assert not (tmp_path / LOCK_NAME).exists()
    (tmp_path / "file").touch()
    with pytest.raises(StoreUnavailable, match="could not be locked"), data_in_use(tmp_path / "file", SQLITE):
        pass
