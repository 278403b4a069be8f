"""Measure dyecast on photos whose truth is known: `python tests/benchmark/run.py --photos FOLDER`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.command import main

if __name__ == "__main__":
    sys.exit(main())
