"""The program as a user calls it: in a process of its own, or within this one."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from loopback.cli.main import main

ROOT = Path(__file__).parent.parent.parent


@dataclass(frozen=True)
class Called:
    """How a call ended."""

    status: int
    out: str
    err: str


def environment(**more: str) -> dict[str, str]:
    """The environment of a child process: this package is found, wherever it is called from."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}


def in_process(arguments: list[str], cwd: Path, encoding: str = "utf-8", **more: str) -> Called:
    """Call it in a process of its own, piped."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "loopback", *arguments],
        cwd=cwd,
        env=environment(**{"PYTHONIOENCODING": encoding, **more}),
        capture_output=True,
        stdin=subprocess.DEVNULL,
        check=False,
        timeout=240,
    )
    return Called(done.returncode, done.stdout.decode(encoding), done.stderr.decode(encoding))


def here(arguments: list[str], capture: pytest.CaptureFixture[str]) -> Called:
    """Call it within this process, which is quicker."""
    capture.readouterr()
    with pytest.raises(SystemExit) as end:
        main(arguments)
    out, err = capture.readouterr()
    return Called(int(end.value.code or 0), out, err)
