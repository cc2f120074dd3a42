"""What the device rig makes of drivers that are not on every machine, and of their troubles."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
import pytest

from loopback.errors import ArgumentError, InterruptedTakeError, RigError
from loopback.plan.runs import RunLabel
from loopback.rig import device, leaving
from loopback.rig.device import DeviceRig, find_boxes
from loopback.rig.device_settings import DeviceSettings
from loopback.rig.protocol import Recorded, RunRequest
from loopback.signal.take import plan_signal, render_take
from tests.reference.sound_library import BLOCK, Library

WASAPI = "Windows WASAPI"
ASKED = RunRequest(RunLabel(path="coupler", feed="plain"), plan_signal(48_000, 1.0), takes=1)


def _use(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    monkeypatch.setattr(device, "_loaded", lambda: library)
    monkeypatch.setattr(leaving, "_lost", threading.Event())


def _until_error(rig: DeviceRig, expected: type[RigError]) -> tuple[list[Recorded], str]:
    kept: list[Recorded] = []
    with pytest.raises(expected) as caught:
        kept.extend(rig.play(ASKED))  # keeps what came before the error
    return kept, str(caught.value)


def test_streams_are_opened_so_that_samples_stay_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    """float32, no clipping, no dither, one full-duplex stream; what comes back is what went out."""
    library = Library("ASIO")
    _use(monkeypatch, library)
    (recorded,) = DeviceRig(DeviceSettings("kestrel")).play(ASKED)
    (opened,) = library.opened
    assert opened["dtype"] == "float32"
    assert opened["clip_off"] is True
    assert opened["dither_off"] is True
    assert opened["device"] == (0, 0)
    assert opened["channels"] == (2, 2)
    assert recorded.samples is not None
    take = 0.5 * render_take(ASKED.signal).astype(np.float32)
    np.testing.assert_array_equal(recorded.samples[BLOCK : BLOCK + take.size, 0], take)


def test_exclusive_access_is_asked_for_and_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows the exclusive way is tried first; when it is given, the rig says so."""
    library = Library(WASAPI)
    _use(monkeypatch, library)
    rig = DeviceRig(DeviceSettings())
    assert len(list(rig.play(ASKED))) == 1
    assert [opened["extra_settings"].exclusive for opened in library.opened] == [True]
    assert rig.access == "Exclusive access: yes."


def test_without_exclusive_access_it_goes_on_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system keeps the interface for itself, the shared way is used, and stated."""

    def refuse(asked: dict[str, Any]) -> tuple[Any, ...] | None:
        if getattr(asked["extra_settings"], "exclusive", False):
            return ("Unanticipated host error", -9999, (13, -2004287474, "not allowed"))
        return None

    library = Library(WASAPI, refuse)
    _use(monkeypatch, library)
    rig = DeviceRig(DeviceSettings())
    assert len(list(rig.play(ASKED))) == 1
    assert rig.access.startswith("Exclusive access: no. The system may mix")


def test_core_audio_may_not_convert(monkeypatch: pytest.MonkeyPatch) -> None:
    """On macOS the interface is set to our rate, and opening fails if it would convert."""
    library = Library("Core Audio")
    _use(monkeypatch, library)
    assert len(list(DeviceRig(DeviceSettings()).play(ASKED))) == 1
    (opened,) = library.opened
    assert opened["extra_settings"].fail_if_conversion_required is True
    assert opened["extra_settings"].change_device_parameters is True


def test_busy_says_what_to_close(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy interface is one sentence with one action."""
    busy = ("Error opening Stream: Device unavailable", -9985)
    _use(monkeypatch, Library("ALSA", lambda _asked: busy))
    monkeypatch.setattr(Library, "query_devices", _alsa_devices)
    kept, said = _until_error(DeviceRig(DeviceSettings()), RigError)
    assert kept == []
    assert "-9985" in said
    assert "Close other audio programs" in said


def _alsa_devices(_library: Library) -> list[dict[str, Any]]:
    device = {"name": "Kestrel Two: USB Audio (hw:1,0)", "hostapi": 0, "default_samplerate": 48e3}
    return [device | {"max_input_channels": 2, "max_output_channels": 2}]


def test_a_rate_that_does_not_run_lists_those_that_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """The error for an unsupported rate names the possible ones."""

    def refuse(asked: dict[str, Any]) -> tuple[Any, ...] | None:
        runs = asked["samplerate"] in (44_100, 96_000)
        return None if runs else ("Error opening Stream: Invalid sample rate", -9997)

    _use(monkeypatch, Library("ASIO", refuse))
    rig = DeviceRig(DeviceSettings())
    assert rig.rates() == (44_100, 96_000)
    _, said = _until_error(rig, RigError)
    assert "Use --rate with one of: 44.1k, 96k." in said


def test_digital_zeros_end_the_run_with_the_take_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing but zeros: the take is handed over, then the privacy settings are named."""
    _use(monkeypatch, Library(WASAPI, gain=0.0))
    kept, said = _until_error(DeviceRig(DeviceSettings()), RigError)
    assert len(kept) == 1
    assert "exactly zero" in said
    assert "Privacy" in said


def test_callbacks_that_stop_end_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """When no more blocks come the take is handed over as far as it went, then the error."""
    _use(monkeypatch, Library("ASIO", stop_after=100))
    rig = DeviceRig(DeviceSettings(patience_s=0.2))
    kept, said = _until_error(rig, InterruptedTakeError)
    (partial,) = kept
    assert partial.samples is not None
    assert len(partial.samples) == 100 * BLOCK - 24_000
    assert partial.flags == ("sound stopped at 3.8 s",)
    assert "The sound stopped 4.3 s into the run" in said


def test_a_stream_that_cannot_be_ended_does_not_hang(monkeypatch: pytest.MonkeyPatch) -> None:
    """The run ends all the same; the library is not touched again, not even at exit."""
    library = Library("ASIO", stop_after=50, hangs=True)
    _use(monkeypatch, library)
    monkeypatch.setattr(leaving, "_END_S", 0.05)
    rig = DeviceRig(DeviceSettings(patience_s=0.05))
    _until_error(rig, InterruptedTakeError)
    assert leaving.is_lost()
    with pytest.raises(RigError, match="Start again"):
        find_boxes()
    leaving.spare_the_exit(library)
    assert library._initialized == 0
    library.released.set()


def test_nothing_is_played_above_the_ceiling(monkeypatch: pytest.MonkeyPatch) -> None:
    """A signal louder than the ceiling is refused before the stream is opened."""
    library = Library("ASIO")
    _use(monkeypatch, library)
    with pytest.raises(ArgumentError, match="above the ceiling of -20 dBFS"):
        list(DeviceRig(DeviceSettings(ceiling_dbfs=-20.0)).play(ASKED))
    assert library.opened == []
