"""Every error of the audio library reaches the user as: found, means, action."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from loopback.errors import RigError
from loopback.rig.device import find_boxes
from loopback.rig.translate import MEANINGS, nothing_but_zeros, translate


@pytest.mark.needs("lib:portaudio")
def test_every_code_of_the_library_has_a_meaning() -> None:
    """The library's own table of error codes and ours hold the same codes."""
    import sounddevice

    codes = set(sounddevice._ffi.typeof("PaErrorCode").elements) - {0}
    assert len(codes) > 25
    assert codes == set(MEANINGS)


@pytest.mark.parametrize("code", sorted(MEANINGS))
def test_every_meaning_is_complete(code: int) -> None:
    """What was found carries the number; what it means and what to do are whole sentences."""
    error = translate(code, "words of the library", "Opening Kestrel Two at 96000 Hz")
    assert isinstance(error, RigError)
    assert str(code) in error.found
    assert "Opening Kestrel Two at 96000 Hz failed" in error.found
    assert error.means.endswith(".")
    assert error.action.endswith(".")


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("Device or resource busy", "Close other audio programs"),
        ("AUDCLNT_E_DEVICE_IN_USE, -2004287478", "Close other audio programs"),
        ("Exclusive mode not allowed, -2004287474", "Allow exclusive mode"),
        ("Access denied, -2147024891", "privacy settings"),
        ("No such device", "Plug it in"),
        ("AUDCLNT_E_UNSUPPORTED_FORMAT, -2004287480", "--rate"),
        ("something else altogether", "Unplug the interface"),
    ],
)
def test_errors_of_the_host_are_told_apart(text: str, action: str) -> None:
    """Busy, exclusive, forbidden, gone and wrong rate each lead to their own action."""
    assert action in translate(-9999, text, "Opening").action


def test_no_code_at_all_is_still_an_answer() -> None:
    """A plain error of the library keeps its words."""
    error = translate(None, "No input device matching 'foo'", "Listing")
    assert "matching 'foo'" in str(error)
    assert error.action


def test_digital_zeros_name_the_privacy_settings() -> None:
    """Silence that no converter makes sends the user to the system's settings."""
    assert "Allow the microphone" in nothing_but_zeros("Kestrel Two").action


LOADING = """
from loopback.rig.device import find_boxes
from loopback.errors import MissingPartError
try:
    find_boxes()
except MissingPartError as error:
    print(error)
"""


def test_no_audio_library_names_the_package(tmp_path: Path) -> None:
    """Where the library's wheel finds no PortAudio, one sentence says what to install."""
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    code = f"import sys\nsys.path.insert(0, {str(tmp_path)!r})\n{LOADING}"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "PortAudio library not found" in done.stdout
    assert "libportaudio2" in done.stdout
    assert done.stderr == ""


@pytest.mark.needs("lib:portaudio")
def test_no_interface_is_an_empty_list() -> None:
    """Listing works on a machine without any interface; what there is has a name and entries."""
    boxes = find_boxes()
    assert all(box.name and box.entries for box in boxes)
