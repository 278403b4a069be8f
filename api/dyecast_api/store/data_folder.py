"""Where a shop's data is kept: one folder with the database and the pictures."""

import os
from pathlib import Path
from typing import Final

import typer

FOLDER_VARIABLE: Final = "DYECAST_DATA"
"""Environment variable that names another data folder."""

DATABASE_NAME: Final = "shop.sqlite3"


def data_folder() -> Path:
    """Return the data folder, whether or not it is there: the user's own unless the environment names one."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else Path(typer.get_app_dir("dyecast"))


def database_url(folder: Path | None = None) -> str:
    """Return the address of the database: `DYECAST_DATABASE_URL`, else the SQLite file in the data folder."""
    named = os.environ.get("DYECAST_DATABASE_URL")
    return named or f"sqlite:///{(folder or data_folder()) / DATABASE_NAME}"
