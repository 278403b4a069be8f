"""What the README and the guide for developers promise can be done."""

import re
import shlex
from collections.abc import Iterator
from typing import Any

import pytest
import typer.main

from dyecast_api.cli import app
from house.source_tree import ROOT

PAGES = {name: (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")}
README = PAGES["README.md"]

SET_UP = [
    "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/dyecast demo",
    "bash tests/run",
]


def shell_blocks(text: str) -> list[str]:
    return re.findall(r"^```bash\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def section(text: str, heading: str) -> str:
    _, _, rest = text.partition(f"\n## {heading}\n")
    return rest.partition("\n## ")[0]


def dyecast_commands(text: str) -> list[str]:
    """Return every command line of ours: in shell blocks, and between backticks."""
    written = [line for block in shell_blocks(text) for line in block.splitlines()]
    written += re.findall(r"`([^`\n]+)`", text)
    return [line for line in written if line.startswith("dyecast ")]


def unknown_words(line: str) -> Iterator[str]:
    """Yield what the command line does not know: a command, or an option of it."""
    command: Any = typer.main.get_command(app)
    words = shlex.split(line)[1:]
    while words and hasattr(command, "commands"):
        name = words.pop(0)
        if name.startswith("-"):
            break
        if name not in command.commands:
            yield name
            return
        command = command.commands[name]
    known = {
        option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)
    }
    yield from (word for word in words if word.startswith("--") and word not in known | {"--help"})


def test_the_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    title, job, after = README.split("\n\n")[:3]
    assert title == "# dyecast"
    assert all(verdict in job for verdict in ("under-pressed", "good", "over-pressed", "retake"))
    assert after.startswith("## ")


def test_exactly_two_commands_set_everything_up() -> None:
    assert [block.strip() for block in shell_blocks(section(README, "Set-up"))] == SET_UP


@pytest.mark.parametrize("text", PAGES.values(), ids=PAGES.keys())
def test_every_command_shown_exists_with_its_options(text: str) -> None:
    commands = dyecast_commands(text)
    assert commands
    assert {line: unknown for line in commands if (unknown := list(unknown_words(line)))} == {}


def test_every_option_in_the_table_of_inspect_exists() -> None:
    options = re.findall(r"\| `(--[^`]+)` \|$", section(README, "3. Ask for the verdict"), re.MULTILINE)
    assert options
    assert [option for option in options if list(unknown_words(f"dyecast inspect {option}"))] == []


@pytest.mark.parametrize("text", PAGES.values(), ids=PAGES.keys())
def test_every_link_leads_somewhere(text: str) -> None:
    targets = re.findall(r"\]\(([^)]+)\)", text)
    headings = {
        "#" + re.sub(r"[^a-z0-9 -]", "", heading.lower()).replace(" ", "-")
        for heading in re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    }
    broken = [target for target in targets if target not in headings and not (ROOT / target).is_file()]
    assert broken == []


def test_every_picture_has_a_caption_in_words() -> None:
    captions = re.findall(r"!\[([^\]]*)\]", README)
    assert captions
    assert [caption for caption in captions if len(caption.split()) < 5] == []


def test_every_decision_has_a_date_and_says_what_would_change_it() -> None:
    decisions = section(PAGES["DEVELOPERS.md"], "Decisions").split("\n\n**")[1:]
    assert decisions
    assert [text for text in decisions if not re.match(r"\d{4}-\d\d-\d\d · .+\?\*\*", text)] == []
    assert [text for text in decisions if "*Would change it:*" not in text] == []
