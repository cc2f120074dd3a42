"""Takes are found wherever they are, and what was cut off is named."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.response.locate import FOUND, best_channel, locate_takes
from loopback.signal.layout import SegmentName
from loopback.signal.take import layout_of, plan_signal, render_take
from tests.reference.recorded_takes import (
    SHORT,
    Response,
    low_pass,
    other_clock,
    recorded,
    shelf,
    wire,
)

LENGTH = layout_of(SHORT).length


@pytest.mark.parametrize("head", [0, 1, 7, 12_345, 200_003])
@pytest.mark.parametrize("level", [1e-3, 1.0, 3.9])
def test_any_offset_and_level(head: int, level: float) -> None:
    """The start is exact to the sample for a wire, at any level."""
    (take,) = locate_takes(level * recorded(head=head), SHORT)
    assert take.start == head
    assert take.complete
    assert take.missing == ()
    assert take.polarity == 1
    assert abs(take.stretch) < 5e-6


@pytest.mark.parametrize("rate_hz", [44_100, 96_000, 192_000])
def test_any_rate(rate_hz: int) -> None:
    """The same at every sample rate."""
    signal = plan_signal(rate_hz, 1.0)
    (take,) = locate_takes(recorded(signal=signal, head=4321, noise=1e-4), signal)
    assert take.start == 4321
    assert take.complete


@pytest.mark.parametrize("response", [low_pass(1500.0, -0.3), shelf(4400.0, 4800.0)])
def test_a_filter_moves_the_start_by_its_own_delay_only(response: Response) -> None:
    """Polarity and filtering leave the take where it is, within a tenth of a millisecond."""
    (take,) = locate_takes(recorded(response, head=3000, noise=1e-5), SHORT)
    assert abs(take.start - 3000) <= 5
    assert take.polarity == (-1 if response(np.array([100.0]))[0].real < 0 else 1)
    assert take.complete


def test_several_takes_in_one_file() -> None:
    """Three takes with pauses between them are three, in order."""
    one = recorded(head=2000, tail=3000, noise=1e-5)
    takes = locate_takes(np.concatenate([one, -0.5 * one, one]), SHORT)
    assert [take.start for take in takes] == [2000, 2000 + len(one), 2000 + 2 * len(one)]
    assert [take.polarity for take in takes] == [1, -1, 1]
    assert all(take.complete for take in takes)


@pytest.mark.parametrize("stretch", [30e-6, 100e-6, 150e-6, -150e-6])
def test_two_clocks(stretch: float) -> None:
    """The ratio of the clocks is found to 12 ppm and the start to two samples."""
    (take,) = locate_takes(other_clock(recorded(head=5000, noise=1e-5), stretch), SHORT)
    assert take.stretch == pytest.approx(stretch, abs=12e-6)
    assert abs(take.start - 5000 * (1 + stretch)) <= 2.5
    assert take.complete


@pytest.mark.parametrize(("label", "true"), [(48_000, 44_100), (44_100, 48_000), (96_000, 48_000)])
def test_wrong_rate_in_the_header(label: int, true: int) -> None:
    """Samples of another rate are found, and the stretch tells which: 44.1/48 is -8.125 %."""
    played = plan_signal(label, 1.0)
    # Resampling by a ratio of small numbers in the frequency domain, from label to true.
    samples = np.pad(render_take(played), (4800, 4800))
    samples = np.pad(samples, (0, -len(samples) % label))
    length = len(samples) * true // label
    spectrum = np.fft.rfft(samples)[: length // 2 + 1]
    kept = np.zeros(length // 2 + 1, dtype=np.complex128)
    kept[: len(spectrum)] = spectrum
    heard = np.fft.irfft(kept, length) * true / label
    (take,) = locate_takes(heard, played)
    assert take.stretch == pytest.approx(true / label - 1, abs=1e-4)
    assert take.start == pytest.approx(4800 * true / label, abs=60)


@pytest.mark.parametrize(
    ("inside", "head", "missing"),
    [
        ("lead", True, ("lead",)),
        ("tones_before", True, ("lead", "tones_before")),
        ("up", True, ("lead", "tones_before", "up")),
        ("end", False, ("end",)),
        ("tones_after", False, ("tones_after", "end")),
        ("down", False, ("down", "tail", "tones_after", "end")),
    ],
)
def test_cut_takes_say_what_is_missing(
    inside: SegmentName, head: bool, missing: tuple[str, ...]
) -> None:
    """Head or tail cut: found by the other sweep, incomplete, with the lost segments named."""
    segment = layout_of(SHORT).segment(inside)
    cut = slice(segment.start + round(0.6 * segment.length), None)
    if not head:
        cut = slice(None, segment.start + round(0.4 * segment.length))
    whole = recorded(head=0, tail=0, noise=1e-5)
    (take,) = locate_takes(whole[cut], SHORT)
    assert abs(take.start + (cut.start or 0)) <= 1
    assert not take.complete
    assert take.missing == missing
    assert take.usable == ("up" not in missing and "down" not in missing)


def test_a_muted_sweep_is_missing() -> None:
    """A sweep that is silent inside an otherwise whole recording counts as missing."""
    samples = recorded(head=700, noise=1e-5)
    down = layout_of(SHORT).segment("down")
    samples[700 + down.start : 700 + down.stop] = 0.0
    (take,) = locate_takes(samples, SHORT)
    assert take.missing == ("down",)
    assert not take.usable


def test_buried_in_noise() -> None:
    """Noise as strong as the sweep does not hide it."""
    (take,) = locate_takes(recorded(head=9000, noise=0.2, seed=3), SHORT)
    assert abs(take.start - 9000) <= 2


@pytest.mark.parametrize(
    "samples",
    [
        np.zeros(LENGTH),
        np.zeros(0),
        np.zeros(5),
        0.1 * np.random.default_rng(1).standard_normal(LENGTH),
        0.3 * np.sin(2 * np.pi * 50 * np.arange(LENGTH) / 48_000),
        recorded(signal=plan_signal(48_000, 2.0)),
    ],
    ids=["zeros", "empty", "five", "noise", "hum", "another signal"],
)
def test_nothing_is_found_where_nothing_is(samples: F64) -> None:
    """Silence, noise, hum and another signal hold no take."""
    assert locate_takes(samples, SHORT) == ()


def test_where_it_was_expected_but_silent() -> None:
    """A silent path is not an error: the take is assumed where the rig played it."""
    noise = 1e-5 * np.random.default_rng(2).standard_normal(LENGTH + 2000)
    (take,) = locate_takes(noise, SHORT, expected_start=1000)
    assert take.start == 1000
    assert take.score < FOUND
    assert not take.found
    assert take.complete


def test_expected_place_chooses_between_takes() -> None:
    """With a place given exactly one take comes back, the nearest."""
    one = recorded(head=2000, tail=3000)
    (take,) = locate_takes(np.concatenate([one, one]), SHORT, expected_start=len(one))
    assert take.start == 2000 + len(one)


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_channel_is_found(channel: int) -> None:
    """The channel that carries the signal wins over noise and over crosstalk."""
    samples = 1e-4 * np.random.default_rng(4).standard_normal((LENGTH + 1000, 3))
    samples[:, (channel + 1) % 3] += 1e-4 * recorded(wire)
    samples[:, channel] += recorded(low_pass(5000.0), delay=3.3)
    assert best_channel(samples, SHORT) == channel
