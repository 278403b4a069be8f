"""All commands find the same shop: by the environment, or by `server.env` in the data folder."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dyecast_api.cli import app
from dyecast_api.command_settings import command_settings
from dyecast_shared.errors import BadInput

NAMES = ("DATA", "DATABASE_URL", "FILES", "BROKER_URL", "PORT")


@pytest.fixture(name="folder")
def data_folder_with_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder whose settings file keeps the database and the pictures elsewhere."""
    for name in NAMES:
        monkeypatch.delenv(f"DYECAST_{name}", raising=False)
    folder = tmp_path / "data"
    folder.mkdir()
    monkeypatch.setenv("DYECAST_DATA", str(folder))
    lines = (
        f"DYECAST_DATABASE_URL=sqlite:///{tmp_path}/elsewhere.sqlite3",
        f"DYECAST_FILES={tmp_path}/pictures",
    )
    (folder / "server.env").write_text("\n".join(lines), encoding="utf-8")
    return folder


def test_everything_lies_in_the_data_folder_unless_told_otherwise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in NAMES:
        monkeypatch.delenv(f"DYECAST_{name}", raising=False)
    monkeypatch.setenv("DYECAST_DATA", str(tmp_path))
    settings = command_settings()
    assert settings.data == tmp_path
    assert settings.database == f"sqlite:///{tmp_path}/shop.sqlite3"
    assert settings.files_place == str(tmp_path / "files")


def test_the_environment_comes_before_the_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert command_settings().database == f"sqlite:///{folder.parent}/elsewhere.sqlite3"
    monkeypatch.setenv("DYECAST_DATABASE_URL", "postgresql+psycopg://shop@localhost/dyecast")
    assert command_settings().database == "postgresql+psycopg://shop@localhost/dyecast"
    assert command_settings().files_place == f"{folder.parent}/pictures"


@pytest.mark.usefixtures("folder")
def test_an_empty_setting_counts_as_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DYECAST_BROKER_URL", "")
    monkeypatch.setenv("DYECAST_PORT", "")
    assert (command_settings().broker_url, command_settings().port) == (None, 8642)


def test_a_setting_that_cannot_be_is_named(folder: Path) -> None:
    (folder / "server.env").write_text("DYECAST_PORT=many", encoding="utf-8")
    with pytest.raises(BadInput, match="DYECAST_PORT"):
        command_settings()


def test_the_worker_works_where_the_file_says(folder: Path) -> None:
    command = [sys.executable, "-m", "dyecast_api", "worker"]
    with subprocess.Popen(command, env=dict(os.environ), stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "1 at work. Stop with Ctrl-C.\n"
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 143
    assert (folder.parent / "elsewhere.sqlite3").is_file()
    assert not (folder / "shop.sqlite3").exists()


def test_backup_and_the_press_log_read_the_same_shop_as_the_file_says(folder: Path, tmp_path: Path) -> None:
    run = CliRunner().invoke
    assert run(app, ["press", "add-press", "front"]).exit_code == 0
    assert (tmp_path / "elsewhere.sqlite3").is_file()
    told = run(app, ["backup", str(tmp_path / "shop.zip")])
    assert (told.exit_code, told.stderr) == (0, "")
    assert not (folder / "shop.sqlite3").exists()


def test_restore_puts_the_pictures_where_the_file_says(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = CliRunner().invoke
    assert run(app, ["press", "add-press", "front"]).exit_code == 0
    assert run(app, ["backup", str(tmp_path / "shop.zip")]).exit_code == 0
    (folder / "server.env").write_text("DYECAST_DATABASE_URL=postgresql+psycopg://shop@localhost/dyecast")
    refused = run(app, ["restore", str(tmp_path / "shop.zip"), "--replace"])
    assert refused.exit_code == 2
    assert "SQLite only" in refused.stderr
    (folder / "server.env").unlink()
    monkeypatch.setenv("DYECAST_DATA", str(tmp_path / "fresh"))
    assert run(app, ["restore", str(tmp_path / "shop.zip")]).exit_code == 0
    assert "front" in run(app, ["press", "list"]).stdout
