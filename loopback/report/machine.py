"""Which kind of machine computes: what can change the last digits, and nothing personal."""

from __future__ import annotations

import os
import platform
from importlib.metadata import version

import numpy as np

from loopback.report.published_records import Machine


def this_machine() -> Machine:
    """Describe what this program runs on.

    Returns
    -------
    Machine
        Versions and kinds; no name of a computer or a user, and no path.
    """
    config = np.show_config(mode="dicts")
    algebra = config.get("Build Dependencies", {}).get("blas", {})
    found = config.get("SIMD Extensions", {}).get("found", ())
    return Machine(
        system=platform.system(),
        processor=platform.machine(),
        python=platform.python_version(),
        numpy=np.__version__,
        scipy=version("scipy"),
        algebra=f"{algebra.get('name', 'unknown')} {algebra.get('version', '')}".strip(),
        instructions=tuple(str(name) for name in found),
        threads=os.environ.get("OPENBLAS_NUM_THREADS", ""),
    )
