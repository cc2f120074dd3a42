"""Audio servers for the tests in this folder, one per file and rate, and the way in to them."""

from __future__ import annotations

from collections.abc import Generator

import pytest

from tests.contract.audio_server import AudioServer, reachable

collect_ignore = ["pedal_process.py", "play_process.py"]
"""Programs of their own: nothing to collect, and one of them needs a library of the server."""


@pytest.fixture(scope="module")
def server() -> Generator[AudioServer]:
    """Give a synchronous server at 48 kHz: nothing is ever lost in it."""
    with AudioServer(48_000) as running, reachable(running):
        yield running


@pytest.fixture(scope="module")
def server_96k() -> Generator[AudioServer]:
    """Give a synchronous server at 96 kHz."""
    with AudioServer(96_000) as running, reachable(running):
        yield running


@pytest.fixture
def losing_server() -> Generator[AudioServer]:
    """Give a server that does not wait: whoever comes too late loses a period."""
    with AudioServer(48_000, synchronous=False) as running, reachable(running):
        yield running
