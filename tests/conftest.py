"""What every test can rely on: a clean environment, and no silent skipping."""

from __future__ import annotations

import ctypes.util
import os
import shutil
import sys
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import settings

# As the program itself does, before numpy is loaded: several workers share the cores, and what is
# published says how many threads there were.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

# The same cases everywhere, and no verdict from a clock on a busy machine.
settings.register_profile("loopback", derandomize=True, deadline=None)
settings.load_profile("loopback")

# Kept between runs: matplotlib takes seconds to list the fonts of a machine.
_FONT_LIST = Path(__file__).parent.parent / ".pytest_cache" / "matplotlib"

_UNSET = (
    "CLICOLOR",
    "CLICOLOR_FORCE",
    "COLORTERM",
    "COLUMNS",
    "FORCE_COLOR",
    "LANG",
    "LANGUAGE",
    "LC_CTYPE",
    "LC_NUMERIC",
    "LINES",
    "NO_COLOR",
    "PYTHONIOENCODING",
    "PYTHONUTF8",
    "XDG_CACHE_HOME",
    "XDG_CONFIG_HOME",
    "XDG_DATA_HOME",
)
_SOUND = ("ALSA_CONFIG_PATH", "JACK_DEFAULT_SERVER")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option for real hardware."""
    parser.addoption(
        "--device",
        metavar="WORDS",
        help="run the hardware tests on this interface (outputs looped back to inputs)",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Declare the markers that this file gives a meaning to."""
    config.addinivalue_line("markers", "needs(*parts): skipped where a system part is missing")
    config.addinivalue_line("markers", "hardware: only with --device, on a real interface")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the hardware tests unless an interface was named."""
    if config.getoption("--device"):
        return
    left_out = [item for item in items if item.get_closest_marker("hardware")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("hardware")]


def part_is_there(part: str) -> bool:
    """Tell whether a program, ``lib:NAME`` or ``alsa:NAME`` (an ALSA plugin) is installed."""
    kind, _, name = part.rpartition(":")
    if kind == "lib":
        bundled = name == "portaudio" and sys.platform in ("win32", "darwin")
        return bundled or ctypes.util.find_library(name) is not None
    if kind == "alsa":
        plugin = f"*/alsa-lib/libasound_module_pcm_{name}.so"
        return any(Path("/usr").glob(f"lib*/{plugin}"))
    return shutil.which(name) is not None


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test whose system parts are not installed."""
    for marker in item.iter_markers("needs"):
        missing = [part for part in marker.args if not part_is_there(part)]
        if missing:
            pytest.skip(f"not installed: {', '.join(missing)}")


def _refuse_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    if os.environ.get("CI") and report.outcome == "skipped":
        report.outcome = "failed"
        report.longrepr = f"skipped where nothing may be: {report.longrepr}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With CI set, a skipped test is a failure."""
    report = yield
    _refuse_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """With CI set, a skipped file is a failure."""
    report = yield
    _refuse_skip(report)
    return report


@pytest.fixture(scope="session", autouse=True)
def clean_environment(
    pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory
) -> Generator[None]:
    """Give all tests the same home, locale and terminal, whatever the machine has.

    What leads to the user's own interface stays where it was named.
    """
    home = str(tmp_path_factory.mktemp("home"))
    with pytest.MonkeyPatch.context() as patch:
        own_sound = () if pytestconfig.getoption("--device") else _SOUND
        for name in (*_UNSET, *own_sound):
            patch.delenv(name, raising=False)
        for name in ("HOME", "USERPROFILE"):
            patch.setenv(name, home)
        patch.setenv("LC_ALL", "C.UTF-8")
        patch.setenv("TERM", "dumb")
        patch.setenv("JACK_NO_START_SERVER", "1")  # no test may start an audio server of the user
        patch.setenv("MPLCONFIGDIR", str(_FONT_LIST))
        yield
