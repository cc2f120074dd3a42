"""The project's own Python environment in `.venv`: made when missing, filled when out of date.

Standard library only: this runs before anything is installed.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST = (3, 11)


class CannotPrepareError(Exception):
    """The environment cannot be made; the text says what to do."""


def prepare(groups: Iterable[str] = ()) -> Path:
    """Make `.venv` when missing, install what is missing, and return its Python."""
    if sys.version_info < OLDEST:
        found = ".".join(map(str, sys.version_info[:3]))
        raise CannotPrepareError(
            f"This is Python {found}; 3.11 or newer is needed. Start this script with a newer one."
        )
    python = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not _runs(python):
        print(f"Making a Python environment in {VENV}", flush=True)
        if _call([sys.executable, "-m", "venv", "--clear", str(VENV)]) != 0:
            raise CannotPrepareError(
                "Python could not make a virtual environment. On Debian and Ubuntu install the "
                "package python3-venv, then run this again."
            )
    wanted = requirements(groups)
    stamp = VENV / "loopback-installed.txt"
    missing = [line for line in wanted if line not in _lines(stamp)]
    if missing:
        print(f"Installing into {VENV}: {', '.join(missing)}", flush=True)
        command = [str(python), "-m", "pip", "install", "--quiet", "--editable", str(ROOT)]
        if _call([*command, *[line for line in wanted if line != _package_line()]]) != 0:
            raise CannotPrepareError(
                "pip could not install the packages named above. Its own message stands before "
                "this line; a network connection is needed the first time."
            )
        stamp.write_text("\n".join(sorted({*_lines(stamp), *wanted})) + "\n", encoding="utf-8")
    return python


def requirements(groups: Iterable[str]) -> list[str]:
    """List this package itself and the requirement lines of the named dependency groups."""
    import tomllib  # new in Python 3.11: not at the top, so that an older one gets its message

    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    known = table["dependency-groups"]

    def lines(name: str) -> list[str]:
        out: list[str] = []
        for entry in known[name]:
            out.extend([entry] if isinstance(entry, str) else lines(entry["include-group"]))
        return out

    wanted = [_package_line(), *(line for name in groups for line in lines(name))]
    return list(dict.fromkeys(wanted))


def _package_line() -> str:
    """Name this package, its place and requirements: a change in any must install again."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return f"{project['name']} from {ROOT} with {', '.join(project['dependencies'])}"


def _runs(python: Path) -> bool:
    if not python.exists():
        return False
    return _call([str(python), "-c", "import pip"], quiet=True) == 0


def _lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def _call(command: list[str], *, quiet: bool = False) -> int:
    try:
        return subprocess.run(command, check=False, capture_output=quiet).returncode
    except OSError:  # a damaged environment: its Python is a link to nothing
        return 1
