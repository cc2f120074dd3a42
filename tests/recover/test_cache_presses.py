"""What is kept of an analysis holds what pressing the footswitch told, too."""

from __future__ import annotations

from dataclasses import replace

from loopback.cache.packed import pack_analysis, unpack_analysis
from loopback.quantity import Estimate
from loopback.switching.contacts import Contacts
from loopback.switching.result import DirectionFigures, PressFigures
from tests.reference.invented_analysis import analysis


def test_presses_are_kept_with_the_complex_amplitudes_of_their_tone() -> None:
    """A tone before and after a press has a phase, which comes back bit for bit."""
    gap = Estimate(3e-3, 1e-5, "s")
    contacts = Contacts(1.25, 0.1 - 0.2j, complex(-1 / 3, float("inf")), gap, 2, 7e-3, None)
    quiet = DirectionFigures(10, 0, 1e-4)
    pressed = PressFigures("V", "level", quiet, quiet, (), (contacts,), 20, 400, (), None)
    kept = unpack_analysis(pack_analysis(replace(analysis(), footswitch=pressed)))
    assert kept is not None
    assert kept.footswitch == pressed
