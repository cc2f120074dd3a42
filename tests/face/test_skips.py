"""A skipped test must not pass unseen where everything is meant to run."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).parent.parent / "conftest.py"
CASES = {
    "test": "import pytest\n\n\ndef test_it():\n    pytest.skip('absent')\n",
    "file": "import pytest\n\npytest.skip('absent', allow_module_level=True)\n",
    "part": "import pytest\n\n\n@pytest.mark.needs('no-such-program')\ndef test_it():\n    pass\n",
}


def _status(folder: Path, code: str, **environment: str) -> tuple[int, str]:
    shutil.copy(CONFTEST, folder / "conftest.py")
    (folder / "test_case.py").write_text(code + "\n\ndef test_other():\n    assert 1\n")
    bare = {name: value for name, value in os.environ.items() if name != "CI"}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-rf", str(folder)],
        env={**bare, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout


@pytest.mark.parametrize("kind", sorted(CASES))
def test_skip_fails_with_ci_set(tmp_path: Path, kind: str) -> None:
    """With CI set, skipping a test, a file or a missing system part ends in failure."""
    status, said = _status(tmp_path, CASES[kind], CI="true")
    assert status != 0
    assert "skipped where nothing may be" in said


def test_skip_is_allowed_elsewhere(tmp_path: Path) -> None:
    """Without CI, a missing system part skips its test and the rest passes."""
    status, said = _status(tmp_path, CASES["part"])
    assert status == 0
    assert "1 passed, 1 skipped" in said
