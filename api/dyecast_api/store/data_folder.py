"""Where a shop's data is kept: one folder with the database and the pictures."""

import os
from pathlib import Path
from typing import Final

import typer

FOLDER_VARIABLE: Final = "DYECAST_DATA"
"""Environment variable that names another data folder."""

DATABASE_NAME: Final = "shop.sqlite3"

FILES_FOLDER: Final = "files"
"""Name of the folder with the pictures."""


def data_folder() -> Path:
    """Return the data folder, whether or not it is there: the user's own unless the environment names one."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else Path(typer.get_app_dir("dyecast"))
