"""The commands `dyecast backup` and `dyecast restore`: a whole shop in one file."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from dyecast_api.command_settings import command_settings
from dyecast_api.exit_status import TROUBLE
from dyecast_api.printable_text import printable
from dyecast_api.terminal import print_result, print_trouble


def backup(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="File to write; one that is there is replaced.")
    ],
) -> None:
    """Copy the shop's database and pictures into one file, while the server runs, and check it."""
    from dyecast_api.work.backup import write_backup
    from dyecast_api.work.file_store import open_file_store

    settings = command_settings()
    store = open_file_store(settings.files_place)
    manifest = write_backup(file, settings.database, store, settings.data, datetime.now(UTC))
    print_result(printable(f"{file}: the database and {len(manifest.files)} files, checked."))
    if manifest.missing:
        print_trouble(
            f"dyecast: {len(manifest.missing)} files were missing or damaged in the store and are not in the "
            f"backup, the first one {manifest.missing[0]}. Restore them from an older backup."
        )
        raise typer.Exit(TROUBLE)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup that dyecast has written.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Move the data that is there aside; it is not deleted.")
    ] = False,
) -> None:
    """Check a backup and put it back into the data folder. Stop the server first."""
    from dyecast_api.work.backup import sqlite_file
    from dyecast_api.work.restore import restore_backup

    settings = command_settings()
    folder = settings.data
    sqlite_file(settings.database)
    restored = restore_backup(file, folder, replace=replace, now=datetime.now(UTC), files=settings.files)
    made = f"The backup of {restored.manifest.made_at} with {len(restored.manifest.files)} files"
    print_result(printable(f"{made} is in {folder}."))
    if restored.moved_to is not None:
        print_result(printable(f"What was there before is in {restored.moved_to}."))
