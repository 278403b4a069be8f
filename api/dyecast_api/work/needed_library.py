"""Libraries that only large shops need: RabbitMQ, object stores."""

import importlib
from typing import Any, Final

from dyecast_shared.errors import DyecastError

EXTRA: Final = "growing"
"""The extra of the installation that brings them."""


def needed_library(name: str, purpose: str) -> Any:  # noqa: ANN401 (any module)
    """Import a library of the extra; raise DyecastError saying how to install it when it is missing."""
    try:
        return importlib.import_module(name)
    except ImportError as problem:
        raise DyecastError(
            f"{purpose} needs the Python library {name.partition('.')[0]}, which is missing.",
            advice=f"Install dyecast with its extra '{EXTRA}': pip install 'dyecast[{EXTRA}]'.",
        ) from problem
