"""Which kind of machine computes: what can change the last digits, and nothing personal."""

from __future__ import annotations

import hashlib
import os
import platform
from functools import cache
from importlib.metadata import version
from pathlib import Path

import numpy as np

from loopback.report.published_records import Machine

_PACKAGE = Path(__file__).parent.parent
_NOT_COMPUTING = ("cli", "guide", "guided", "rig", "simulate", "notebook.py")
"""Parts that neither compute nor write what is published."""


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


@cache
def this_code() -> str:
    """Hash the source of everything that computes.

    Returns
    -------
    str
        SHA-256. While a program is worked on its numbers change and its version does not.
    """
    digest = hashlib.sha256()
    for path in sorted(_PACKAGE.rglob("*.py")):
        inside = path.relative_to(_PACKAGE)
        if inside.parts[0] not in _NOT_COMPUTING:
            digest.update(f"{inside.as_posix()}\n".encode())
            digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()
