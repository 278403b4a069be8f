"""The command `dyecast demo`: an inspection of three photos that come with dyecast."""

from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Final

import typer

from dyecast_api import inspect_stages
from dyecast_api.exit_status import ALL_GOOD
from dyecast_api.inspect_order import InspectOrder
from dyecast_api.terminal import print_result
from dyecast_shared.errors import DyecastError

DEMO_FOLDER: Final = "demo"
"""Package data folder: one artwork, whose name begins with ARTWORK_STEM, and the photos."""

ARTWORK_STEM: Final = "artwork"
PICTURE_SUFFIXES: Final = (".jpg", ".jpeg", ".png", ".webp")


def demo(
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="DIR", help="Where the folder of reports is written.")
    ] = Path("dyecast-demo"),
) -> None:
    """Inspect three photos that come with dyecast, and leave a folder of reports.

    Exit status: 0 when it ran, whatever the verdicts; 2 trouble.
    """
    stages = inspect_stages.load_inspect_stages()
    from dyecast_api.inspect_run import carry_out

    with as_file(files("dyecast_api") / DEMO_FOLDER) as folder:
        artwork, photos = demo_pictures(folder)
        print_result(f"Inspecting {len(photos)} photos that come with dyecast against {artwork.name}.")
        carry_out(InspectOrder(photos=photos, artwork=artwork, out=out, quiet=True), stages)
    print_result(f"Reports: {out.resolve() / 'index.html'}")
    raise typer.Exit(ALL_GOOD)


def demo_pictures(folder: Path) -> tuple[Path, tuple[Path, ...]]:
    """Return the artwork and the photos in the demo's folder, by name; DyecastError when one is missing."""
    pictures = sorted(folder.iterdir()) if folder.is_dir() else []
    pictures = [path for path in pictures if path.suffix.lower() in PICTURE_SUFFIXES]
    artworks = [path for path in pictures if path.stem.startswith(ARTWORK_STEM)]
    photos = tuple(path for path in pictures if path not in artworks)
    if len(artworks) != 1 or not photos:
        raise DyecastError(
            "The photos of the demo are not part of this installation.", advice="Install dyecast again."
        )
    return artworks[0], photos
