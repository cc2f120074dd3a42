"""Install what the tests need and run every check: `python3 scripts/test.py`.

Anything after `--` goes to pytest. Exit status 0 only when all checks passed; all are run.
"""

from __future__ import annotations

import ctypes.util
import os
import shlex
import shutil
import subprocess
import sys
import time
from pathlib import Path

from environment import ROOT, CannotPrepareError, prepare

ALSA_PLUGIN = "alsa-lib/libasound_module_pcm_jack.so"


def system_parts() -> dict[str, bool]:
    """Debian package of every system part the tests use, and whether the part is there."""
    return {
        "ngspice": shutil.which("ngspice") is not None,
        "sox": shutil.which("sox") is not None,
        "jackd2": shutil.which("jackd") is not None,
        "libportaudio2": sys.platform in ("win32", "darwin")  # inside the wheel there
        or ctypes.util.find_library("portaudio") is not None,
        "libasound2-plugins": any(
            next(folder.glob(f"*/{ALSA_PLUGIN}"), None) is not None
            for folder in (Path("/usr/lib"), Path("/usr/lib64"))
            if folder.is_dir()
        ),
    }


def install_system_parts() -> None:
    """Install what is missing where that is our business: Debian, as root. Else say what."""
    missing = [name for name, there in system_parts().items() if not there]
    if not missing:
        return
    if Path("/etc/debian_version").exists() and hasattr(os, "geteuid") and os.geteuid() == 0:
        print(f"Installing system packages with apt-get: {' '.join(missing)}", flush=True)
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run(["apt-get", "update", "-qq"], check=False, env=quiet)
        command = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing]
        subprocess.run(command, check=False, env=quiet, stdout=subprocess.DEVNULL)
        missing = [name for name, there in system_parts().items() if not there]
    if missing:
        print(
            f"Not on this system: {', '.join(missing)} (names of the Debian packages). "
            + (
                "With CI set this will fail: the tests that need them are skipped."
                if os.environ.get("CI")
                else "The tests that need them are skipped; all others run."
            ),
            flush=True,
        )


def checks(python: Path, pytest_arguments: list[str]) -> list[tuple[str, list[str]]]:
    """Name and command line of every check, in the order in which they run."""
    run = [str(python), "-m"]
    tests = [*run, "pytest", "--doctest-modules", "-n", "2", "--dist", "loadfile"]
    return [
        ("layout of the code", [*run, "ruff", "format", "--check", "."]),
        ("lint", [*run, "ruff", "check", "."]),
        ("types", [*run, "mypy"]),
        ("tests", [*tests, *pytest_arguments]),
    ]


def main(arguments: list[str]) -> int:
    """Prepare, run all checks, and say how each ended."""
    started = time.monotonic()
    try:
        python = prepare(("test", "lint", "typing"))
    except CannotPrepareError as error:
        print(error, file=sys.stderr)
        return 1
    install_system_parts()
    ended: list[tuple[str, int, float]] = []
    for name, command in checks(python, [word for word in arguments if word != "--"]):
        shown = shlex.join(["python", *command[1:]])
        print(f"\n--- {name}: {shown}", flush=True)
        began = time.monotonic()
        status = subprocess.run(command, check=False, cwd=ROOT).returncode
        ended.append((name, status, time.monotonic() - began))
    print(f"\nEverything took {time.monotonic() - started:.0f} s:")
    for name, status, seconds in ended:
        print(f"  {name:20} {'good' if status == 0 else f'FAILED ({status})':12} {seconds:5.0f} s")
    return 0 if all(status == 0 for _, status, _ in ended) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
