"""What a fresh process has loaded after the cheapest things one can do with the package."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = {
    "asyncio",
    "cffi",
    "jinja2",
    "loopback.analysis",
    "matplotlib",
    "numpy",
    "rich",
    "scipy",
    "sounddevice",
    "soundfile",
}

REPORT = "print('\\n'.join(sys.modules), file=sys.stderr)"
IMPORT = f"import sys, loopback; {REPORT}"
NAMES = f"import sys, loopback; dir(loopback); loopback.__version__; {REPORT}"
HELP = f"""
import sys
from loopback.cli.main import main
sys.argv = ["loopback", "--help"]
try:
    main()
except SystemExit as end:
    assert not end.code
{REPORT}
"""


def _loaded(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    return set(done.stderr.split())


@pytest.mark.parametrize("code", [IMPORT, NAMES, HELP], ids=["import", "names", "help"])
def test_nothing_heavy_is_loaded(code: str) -> None:
    """Importing the package, listing its names and asking for help load no heavy library."""
    loaded = _loaded(code)
    assert "loopback" in loaded
    assert loaded.isdisjoint(HEAVY), sorted(loaded.intersection(HEAVY))
