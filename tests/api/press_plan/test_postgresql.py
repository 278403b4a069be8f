"""The press log, the plan and what it is worth, with a shop whose data lies in PostgreSQL."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.batches.batch_shop import done, refused
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from servers.postgresql import PostgresqlServer, postgresql_server


@pytest.fixture(scope="module")
def postgresql() -> Iterator[PostgresqlServer]:
    with postgresql_server() as server:
        yield server


def test_a_blank_is_dialled_in_and_its_log_carried_to_a_shop_on_sqlite(
    postgresql: PostgresqlServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setenv("DYECAST_DATABASE_URL", postgresql.new_database())
    done("press", "add-press", "front")
    supplier = ("--supplier-temperature", "380F", "--supplier-time", "60s")
    done("press", "add-blank", "coaster", "--material", "glass", "--thickness", "4mm", *supplier)
    settings = ("--temperature", "380F", "--time", "60s")
    done("press", "add-recipe", "coasters", "--press", "front", "--blank", "coaster", *settings)
    by_kim = ("--judged-by", "Kim")
    done("press", "log", "coasters", "--grade", "under", *by_kim, "--time", "60s", "--lost")
    done("press", "log", "coasters", "--grade", "good", *by_kim, "--time", "90s")
    done("press", "log", "coasters", "--grade", "over", *by_kim, "--time", "300s", "--lost")
    done("press", "grade", "3", "--grade", "good", *by_kim)
    done("press", "take-back", "1")
    assert "no press called 'other'" in refused("plan", "coaster", "--press", "other")
    planned = done("plan", "coaster", "--press", "front")
    assert "Next: press 'coaster' on 'front' at" in planned
    listed = done("press", "list")
    assert "good by Kim" in listed
    worth = done("worth")
    assert "coaster" in worth
    done("press", "export", "log.json")

    monkeypatch.delenv("DYECAST_DATABASE_URL")
    done("press", "import", "log.json")
    assert done("plan", "coaster", "--press", "front") == planned
    assert done("worth") == worth
    assert json.loads(Path("log.json").read_text())["format"] == "dyecast-press-log"
