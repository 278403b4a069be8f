"""Play the README's story "Dial in a new blank" in an empty folder with the simulated press, and draw it.

    python tests/dial_in.py --picture tests/pictures/dial_in.svg

The commands are the README's own, one after the other. Before a photo is logged, the simulated press makes it
with the settings of that very command.
"""

import argparse
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import chdir
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from typer.testing import CliRunner

from dyecast_api.cli import app
from dyecast_api.press_log.entered_values import entered_temperature, entered_time
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from simulated_press import press_piece

README = Path(__file__).parents[1] / "README.md"
SECTION = "5. Dial in a new blank"


@dataclass(frozen=True, slots=True)
class Told:
    """One command of the story and what dyecast answered."""

    command: str
    output: str
    status: int


def story_commands() -> list[str]:
    """Return the commands in the story's section of the README, in order."""
    _, _, rest = README.read_text(encoding="utf-8").partition(f"\n## {SECTION}\n")
    blocks = re.findall(r"^```bash\n(.*?)^```$", rest.partition("\n## ")[0], re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line.startswith("dyecast ")]


def play(commands: Sequence[str]) -> Iterator[Told]:
    """Run the commands in the working folder; the settings of a recipe are those of its own command."""
    recipe: dict[str, str] = {}
    for command in commands:
        words = shlex.split(command)[1:]
        given = dict(pairwise(words))
        if words[:2] == ["press", "add-recipe"]:
            recipe = given
        if words[:2] == ["press", "log"]:
            kelvin = entered_temperature(given.get("--temperature", recipe["--temperature"]))
            press_piece(Path(given["--photo"]), kelvin, entered_time(given.get("--time", recipe["--time"])))
        result = CliRunner().invoke(app, words)
        yield Told(command, result.output, result.exit_code)


def main() -> None:
    """Play the story, print it, and keep the picture of its last plan."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--picture", type=Path)
    picture = parser.parse_args().picture
    place = None if picture is None else picture.resolve()
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        os.environ[FOLDER_VARIABLE] = folder
        for told in play(story_commands()):
            sys.stdout.write(f"$ {told.command}\n{told.output}\n")
        if place is not None:
            place.write_bytes(Path("plan.svg").read_bytes())


if __name__ == "__main__":
    main()
