"""What the README and the guide for developers promise can be done."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import typer.main

from dyecast_api.cli import app
from house.source_tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SET_UP = (
    "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/dyecast demo",
    "bash tests/run",
)
