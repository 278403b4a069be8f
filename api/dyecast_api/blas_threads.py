"""Numpy's matrix library kept to one thread."""

import os
from collections.abc import MutableMapping
from typing import Final

ASKED_BY: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
"""Environment variables that OpenBLAS, which numpy's wheels carry, obeys; the first one wins."""


def keep_blas_to_one_thread(environment: MutableMapping[str, str] = os.environ) -> None:
    """Ask OpenBLAS for one thread, unless the user has asked for a number; call it before numpy is imported.

    Its threads wait by spinning. With the small matrices here they gain nothing, double the processor time,
    and on a machine whose cores are busy an inspection takes several times as long.
    """
    if not any(name in environment for name in ASKED_BY):
        environment[ASKED_BY[0]] = "1"
