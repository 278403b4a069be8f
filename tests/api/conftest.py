"""A shop on the command line: a working folder beside the data folder of its own, with fake stages."""

import shutil
from contextlib import chdir
from pathlib import Path

import pytest

from api.batches.batch_shop import FAKE, set_up
from dyecast_api import inspect_stages
from dyecast_api.store.data_folder import FOLDER_VARIABLE


@pytest.fixture(scope="session")
def empty_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A working folder with a shop that has a press, a blank and a recipe, made once."""
    folder = tmp_path_factory.mktemp("shop")
    with pytest.MonkeyPatch.context() as patch, chdir(folder):
        patch.setenv(FOLDER_VARIABLE, str(folder / "data"))
        set_up()
    return folder


@pytest.fixture
def shop(empty_shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with a press, a blank and a recipe; return its data folder."""
    shutil.copytree(empty_shop, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv("DYECAST_DATABASE_URL", raising=False)
    monkeypatch.delenv("DYECAST_FILES", raising=False)
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", lambda: FAKE)
    return tmp_path / "data"
