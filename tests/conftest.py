"""What every test relies on: helpers importable by name, and the same examples in every run."""

import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

TESTS_FOLDER = str(Path(__file__).parent)

if TESTS_FOLDER not in sys.path:  # pytest's importlib mode adds no folder by itself
    sys.path.insert(0, TESTS_FOLDER)

settings.register_profile(
    "same-every-time",
    deadline=None,  # a busy machine is no failure; pytest's own timeout stops what hangs
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("search", deadline=None, print_blob=True)
settings.load_profile("same-every-time")
