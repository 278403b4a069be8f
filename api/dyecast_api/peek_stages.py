"""The functions that a peek is made with: those of an inspection, with `peek_photo` in its place."""

from dataclasses import replace

from dyecast_api import inspect_stages
from dyecast_api.inspect_stages import InspectStages


def load_peek_stages() -> InspectStages:
    """Import the pipeline; raise DyecastError naming the system package when OpenCV cannot be loaded."""
    stages = inspect_stages.load_inspect_stages()
    from dyecast_inspect.peek import peek_photo

    return replace(stages, inspect_photo=peek_photo)
