"""Measure dyecast on photos whose truth is known: `python tests/benchmark/run.py --photos FOLDER`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from dyecast_api.blas_threads import keep_blas_to_one_thread

keep_blas_to_one_thread()  # as the command does, and like it before numpy is imported

from benchmark.command import main  # noqa: E402

if __name__ == "__main__":
    sys.exit(main())
