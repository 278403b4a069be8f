"""The report folder of an inspection: the page for people and the document for programs."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dyecast_api.inspection_document import inspection_document
from dyecast_api.output_files import made_folder, write_together
from dyecast_api.report_page import report_page
from dyecast_inspect.inspection import Inspection
from dyecast_shared.errors import DyecastError

PAGE_NAME: Final = "report.html"
DOCUMENT_NAME: Final = "inspection.json"


def write_report(inspection: Inspection, folder: Path, *, error: DyecastError | None = None) -> Path:
    """Write the report of an inspection into `folder`, made when missing; return the page's path.

    The folder then holds ``report.html`` and ``inspection.json``; files of an earlier inspection under these
    names are replaced. `error` is the trouble with a photo that could not be used at all.

    Raises OutputFailed when something cannot be written; then neither of the two files was touched.
    """
    page = report_page(inspection).encode("utf-8", "replace")
    document = json.dumps(inspection_document(inspection, error=error), indent=2, allow_nan=False)
    path = folder / PAGE_NAME
    with made_folder(folder):
        write_together({folder / DOCUMENT_NAME: document.encode("ascii") + b"\n", path: page})
    return path


def report_folders(photos: Sequence[Path], out: Path) -> tuple[Path, ...]:
    """Return a folder in `out` for each photo, named after it; photos of the same name are numbered."""
    folders: list[Path] = []
    for photo in photos:
        stem = photo.stem or "photo"
        name, number = stem, 1
        while out / name in folders:
            number += 1
            name = f"{stem}-{number}"
        folders.append(out / name)
    return tuple(folders)
