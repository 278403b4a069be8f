"""A shop that watches a batch, in tests: commands, photos that say what is measured on them, a press log.

A photo's name carries its figures: `good-0.953-1.2-0.020.jpg` is a good piece with 95.3 % of the ink, a
median CIEDE2000 of 1.2 from the first piece, and a veil of 2 %.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from api import fake_stages
from api.inspections import sunset
from api.work.pieces_of_work import small_photo
from dyecast_api.cli import app
from dyecast_api.inspect_stages import InspectStages
from dyecast_api.report_pictures import png_bytes
from dyecast_inspect.inspection import ColourDifference, Estimate, Inspection
from dyecast_inspect.read_artwork import Artwork


def inspect_photo(path: Path, artwork: Callable[[], Artwork], **asked: Any) -> Inspection:
    """Answer by the photo's name."""
    seen = fake_stages.inspect_photo(path, artwork, **asked)
    told = path.stem.split("-")[1:]
    if len(told) != 3 or seen.features is None:
        return seen
    fraction, difference, veil = map(float, told)
    features = replace(
        seen.features,
        transferred_fraction=Estimate(fraction, 0.03),
        veil=Estimate(veil, 0.002),
        coating_yellowing=Estimate(fraction - 0.95, 0.4),
    )
    approved = None
    if asked["approved"] is not None:
        approved = ColourDifference(1.1 * difference, difference, 2.0 * difference)
    return replace(seen, features=features, delta_e_2000_approved=approved)


FAKE = InspectStages(
    fake_stages.read_artwork,
    fake_stages.measure_approved,
    inspect_photo,
    lambda path: path.name,
    fake_stages.approved_artwork,
)


def photo(name: str, seed: int) -> str:
    """Write a small photo into the working folder; return its name."""
    Path(name).write_bytes(small_photo(seed))
    return name


def run(*words: object) -> Result:
    """Run a command."""
    return CliRunner().invoke(app, list(map(str, words)))


def done(*words: object, status: int = 0) -> str:
    """Run a command that must end well, or with the status; return what it said, in one line."""
    result = run(*words)
    assert result.exit_code == status, result.output
    return " ".join(result.output.split())


def refused(*words: object) -> str:
    """Run a command that must be refused; return what it said, in one line."""
    return done(*words, status=2)


def set_up() -> None:
    """Add a press, a blank and a recipe; write the artwork."""
    done("press", "add-press", "front")
    material = ("--material", "glass", "--thickness", "4mm", "--coating", "back")
    done("press", "add-blank", "coaster", *material, "--cost", 1.8, "--currency", "EUR")
    settings = ("--temperature", "380F", "--time", "180s")
    done("press", "add-recipe", "coasters", "--press", "front", "--blank", "coaster", *settings)
    Path("sunset.png").write_bytes(png_bytes(sunset()))


def start(name: str = "May", *more: object) -> str:
    """Start a batch."""
    return done("batch", "start", name, "--recipe", "coasters", "--artwork", "sunset.png", *more)


def approved_batch(name: str = "May", *more: object) -> None:
    """Start a batch and approve its first piece."""
    start(name, *more)
    done("batch", "add", name, photo("good-0.950-0.0-0.020.jpg", 1))
    done("batch", "approve", name, "--by", "Kim")
