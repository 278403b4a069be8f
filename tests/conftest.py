"""Make the scene maker importable as `scenes` under pytest's importlib mode."""

import sys
from pathlib import Path

TESTS_FOLDER = str(Path(__file__).parent)

if TESTS_FOLDER not in sys.path:
    sys.path.append(TESTS_FOLDER)
