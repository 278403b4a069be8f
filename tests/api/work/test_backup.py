"""A shop in one file: taken while it works, checked, put back whole or not at all."""

import sqlite3
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine, insert
from typer.testing import CliRunner

from api.work.pieces_of_work import NOON, rows_of, send
from api.work.quick_inspector import quick_inspector
from dyecast_api.cli import app
from dyecast_api.store.database import open_database, writing
from dyecast_api.store.shop_tables import shops
from dyecast_api.work.backup import write_backup
from dyecast_api.work.backup_archive import checked_manifest
from dyecast_api.work.file_store import LocalFileStore
from dyecast_api.work.queue import waiting_count
from dyecast_api.work.restore import restore_backup
from dyecast_api.work.worker import Worker, run_worker
from dyecast_shared.errors import BackupInvalid, BadInput, FileUnreadable, OutputFailed, StoreInvalid

LATER = datetime(2026, 5, 5, 8, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a data folder, the one that commands use too."""
    monkeypatch.delenv("DYECAST_DATABASE_URL", raising=False)
    monkeypatch.delenv("DYECAST_FILES", raising=False)
    monkeypatch.setenv("DYECAST_DATA", str(tmp_path / "shop"))
    return tmp_path / "shop"


@pytest.fixture
def store(folder: Path) -> LocalFileStore:
    return LocalFileStore(folder / "files")


@pytest.fixture
def engine(folder: Path, store: LocalFileStore) -> Iterator[Engine]:
    """Return a shop with an inspected photo and one that waits."""
    opened = open_database(f"sqlite:///{folder}/shop.sqlite3")
    send(opened, store, 1)
    run_worker(Worker(opened, quick_inspector(opened, store), "worker"), until_empty=True)
    send(opened, store, 2)
    (folder / "shop-profile.json").write_text('{"taught": true}', encoding="utf-8")
    yield opened
    opened.dispose()


@pytest.fixture(name="backup")
def made_backup(engine: Engine, folder: Path, store: LocalFileStore, tmp_path: Path) -> Path:
    path = tmp_path / "shop.zip"
    write_backup(path, str(engine.url), store, folder, NOON)
    return path


def test_a_backup_holds_the_database_every_file_and_what_the_shop_taught(
    backup: Path, engine: Engine
) -> None:
    manifest = checked_manifest(backup)
    assert set(manifest.files) == {row.photo_sha256 for row in rows_of(engine)}
    assert manifest.missing == ()
    assert manifest.profile is not None


def test_a_restored_shop_goes_on_where_it_was(backup: Path, tmp_path: Path, engine: Engine) -> None:
    restored = restore_backup(backup, tmp_path / "elsewhere", replace=False, now=LATER)
    assert restored.moved_to is None
    again = open_database(f"sqlite:///{tmp_path}/elsewhere/shop.sqlite3")
    assert [row.public_id for row in rows_of(again)] == [row.public_id for row in rows_of(engine)]
    store = LocalFileStore(tmp_path / "elsewhere" / "files")
    run_worker(Worker(again, quick_inspector(again, store), "worker"), until_empty=True)
    assert [row.verdict for row in rows_of(again)] == ["good", "good"]
    assert (tmp_path / "elsewhere" / "shop-profile.json").read_text(encoding="utf-8") == '{"taught": true}'
    again.dispose()


def test_a_backup_is_of_one_instant_though_others_write(
    folder: Path, store: LocalFileStore, engine: Engine, tmp_path: Path
) -> None:
    with writing(engine) as connection:
        connection.execute(insert(shops).values(name="half done", created_at=NOON))
        path = tmp_path / "now.zip"
        write_backup(path, f"sqlite:///{folder}/shop.sqlite3", store, folder, NOON)
    restore_backup(path, tmp_path / "then", replace=False, now=LATER)
    with sqlite3.connect(tmp_path / "then" / "shop.sqlite3") as connection_then:
        assert connection_then.execute("SELECT count(*) FROM shops").fetchone() == (1,)
    connection_then.close()


def test_data_that_is_there_is_refused_or_moved_aside_and_never_deleted(
    backup: Path, folder: Path, store: LocalFileStore, engine: Engine
) -> None:
    send(engine, store, 3)
    engine.dispose()
    with pytest.raises(OutputFailed, match="data in this folder already"):
        restore_backup(backup, folder, replace=False, now=LATER)
    restored = restore_backup(backup, folder, replace=True, now=LATER)
    assert restored.moved_to == folder.with_name("shop.before-20260505-080000")
    before = open_database(f"sqlite:///{restored.moved_to}/shop.sqlite3")
    after = open_database(f"sqlite:///{folder}/shop.sqlite3")
    assert (len(rows_of(before)), len(rows_of(after))) == (3, 2)
    before.dispose()
    after.dispose()


@pytest.mark.parametrize("damage", ["a file", "the database", "the end", "everything"])
def test_a_damaged_backup_is_refused_before_anything_is_touched(
    backup: Path, tmp_path: Path, damage: str
) -> None:
    content = bytearray(backup.read_bytes())
    with zipfile.ZipFile(backup) as archive:
        names = [name for name in archive.namelist() if name.startswith("files/")]
        part = names[0] if damage == "a file" else "shop.sqlite3"
        place = archive.getinfo(part).header_offset + 200
    if damage == "the end":
        content = content[:-100]
    elif damage == "everything":
        content = bytearray(b"notes of Monday")
    else:
        content[place] ^= 0xFF
    backup.write_bytes(content)
    with pytest.raises(BackupInvalid):
        restore_backup(backup, tmp_path / "elsewhere", replace=False, now=LATER)
    assert not (tmp_path / "elsewhere").exists()
    assert [path.name for path in tmp_path.iterdir() if "unfinished" in path.name] == []


def test_a_file_missing_in_the_store_is_named_and_the_rest_is_saved(
    folder: Path, store: LocalFileStore, engine: Engine, tmp_path: Path
) -> None:
    first, second = (row.photo_sha256 for row in rows_of(engine))
    store.drop(first)
    path = tmp_path / "shop.zip"
    manifest = write_backup(path, f"sqlite:///{folder}/shop.sqlite3", store, folder, NOON)
    assert (manifest.missing, manifest.files) == ((first,), (second,))


def test_there_must_be_something_to_back_up_and_a_backup_to_restore(tmp_path: Path) -> None:
    store = LocalFileStore(tmp_path / "files")
    with pytest.raises(StoreInvalid, match="no shop"):
        write_backup(tmp_path / "a.zip", f"sqlite:///{tmp_path}/none.sqlite3", store, tmp_path, NOON)
    with pytest.raises(FileUnreadable):
        restore_backup(tmp_path / "none.zip", tmp_path / "shop", replace=False, now=NOON)
    assert list(tmp_path.iterdir()) == []


def test_another_database_is_left_to_its_own_tools(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="SQLite only") as caught:
        url = "postgresql+psycopg://shop@localhost/dyecast"
        write_backup(tmp_path / "a.zip", url, LocalFileStore(tmp_path), tmp_path, NOON)
    assert "pg_dump" in caught.value.advice


def test_the_commands_say_what_they_did(folder: Path, engine: Engine, tmp_path: Path) -> None:
    engine.dispose()
    file = str(tmp_path / "shop.zip")
    told = CliRunner().invoke(app, ["backup", file])
    assert (told.exit_code, told.stdout) == (0, f"{file}: the database and 2 files, checked.\n")
    refused = CliRunner().invoke(app, ["restore", file])
    assert refused.exit_code == 2
    assert "--replace" in refused.stderr
    done = CliRunner().invoke(app, ["restore", file, "--replace"])
    assert done.exit_code == 0
    assert "with 2 files is in" in done.stdout
    assert "What was there before is in" in done.stdout
    restored = open_database(f"sqlite:///{folder}/shop.sqlite3")
    assert waiting_count(restored) == 1
    restored.dispose()


def test_the_backup_command_says_what_was_missing(
    engine: Engine, store: LocalFileStore, tmp_path: Path
) -> None:
    store.drop(rows_of(engine)[0].photo_sha256)
    told = CliRunner().invoke(app, ["backup", str(tmp_path / "shop.zip")])
    assert told.exit_code == 2
    assert "1 files were missing or damaged" in told.stderr
