"""Reading a take gives back the response it was made with, in value and in stated doubt."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.locate import Located, locate_takes
from loopback.response.reading import TakeReading
from loopback.response.sweeps import fast_length, sweep_kernel
from loopback.response.take import folded, read_take
from loopback.signal.take import Signal, layout_of, plan_signal
from tests.reference.direct_sums import band_response
from tests.reference.recorded_takes import (
    SHORT,
    Response,
    low_pass,
    other_clock,
    recorded,
    shelf,
    wire,
)


def _read(path: F64, check: F64 | None = None, signal: Signal = SHORT) -> TakeReading:
    samples = path[:, None] if check is None else np.stack([path, check], axis=1)
    (located,) = locate_takes(path, signal)
    return read_take(
        samples,
        signal,
        located,
        run_id="01",
        recording="recordings/01-1.wav",
        number=1,
        path_channel=0,
        check_channel=None if check is None else 1,
    )


def _inside(reading: TakeReading, low_hz: float = 20.0, top: float = 0.95) -> F64:
    return (reading.f_hz > low_hz) & (reading.f_hz < top * reading.f_hz[-1])


def _line(f_hz: F64) -> C128:
    """100 Ω and 1 kΩ into 1 MΩ with 1 nF to ground, and a load of 1 MΩ."""
    admittance = 1 / 1e6 + 1 / 1e6 + 2j * np.pi * f_hz * 1e-9
    return np.asarray(1 / (1 + 1100.0 * admittance), dtype=np.complex128)


def test_wire_reads_one() -> None:
    """A noiseless wire is 1 at every frequency, to rounding, with no delay and no harmonics."""
    reading = _read(recorded())
    for response in (reading.up, reading.down):
        assert np.max(np.abs(response - 1)) < 1e-9
    assert abs(reading.delay_s) < 1e-12
    assert np.nanmax(reading.harmonics[:, _inside(reading, 200.0)]) < 1e-5
    assert reading.stretch == 0.0
    assert reading.peak == pytest.approx(SHORT.amplitude, rel=1e-3)
    assert reading.check is None


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_line_model_in_level_and_phase(rate_hz: int) -> None:
    """A network of R and C comes back as its closed form, level to 0.0005 dB, phase to 0.1 mrad.

    Values at 1 and 20 kHz: computed independently with a circuit simulator.
    """
    # At 44.1 kHz a sweep of 1 s begins to fade out below 20 kHz.
    signal = plan_signal(rate_hz, 2.0 if rate_hz < 48_000 else 1.0)
    reading = _read(recorded(_line, signal=signal, head=900), signal=signal)
    inside = _inside(reading)
    early = (reading.start - 900) / rate_hz
    expected = _line(reading.f_hz) * np.exp(2j * np.pi * reading.f_hz * early)
    quotient = ((reading.up + reading.down) / 2 / expected)[inside]
    assert np.max(np.abs(20 * np.log10(np.abs(quotient)))) < 5e-4
    assert np.max(np.abs(np.angle(quotient))) < 1e-4
    level = 20 * np.log10(np.abs(reading.up))
    at = np.interp([1000.0, 20_000.0], reading.f_hz, level)
    assert at == pytest.approx([-0.019294511, -0.100931061], abs=5e-4)


@pytest.mark.parametrize("offset", [0.0, 1e-3, -0.05])
def test_coupling_capacitors_and_an_offset(offset: float) -> None:
    """Two high-pass corners at 1 and 2 Hz ring on longer than a window; 0.002 dB from 11 Hz up."""

    def coupled(f_hz: F64) -> C128:
        return np.asarray((1j * f_hz / 2) / (1 + 1j * f_hz / 2) * (1j * f_hz) / (1 + 1j * f_hz))

    reading = _read(recorded(coupled) + offset)
    inside = _inside(reading, 11.0)
    for response in (reading.up, reading.down):
        level = 20 * np.log10(np.abs(response / coupled(reading.f_hz)))
        assert np.max(np.abs(level[inside])) < 2e-3


def test_what_outlasts_the_window_is_folded_to_its_beginning() -> None:
    """A slow decay comes back at the beginning to 0.0005; quick noise does not."""
    decay = np.exp(-np.arange(30_000) / 4000.0)
    noise = 1e-3 * np.random.default_rng(1).standard_normal(10_000)
    window = np.concatenate([decay[:20_000], decay[20_000:] + noise])
    result = folded(window.copy(), 20_000, 48_000)
    assert len(result) == 20_000
    brought = result[:9600] - decay[:9600]
    assert np.max(np.abs(brought - decay[20_000:29_600])) < 5e-4
    for mains_hz in (50.0, 60.0):
        hum = 1e-3 * np.sin(2 * np.pi * mains_hz * np.arange(30_000) / 48_000)
        assert np.max(np.abs(folded(hum.copy(), 20_000, 48_000) - hum[:20_000])) < 1e-5
    assert np.array_equal(folded(decay[:15_000].copy(), 20_000, 48_000), decay[:15_000])


@pytest.mark.parametrize("response", [wire, low_pass(3000.0), shelf(4000.0, 4400.0)])
@pytest.mark.parametrize("delay", [0.0, 0.25, 0.5, -0.37, 3.81, 700.123])
def test_fraction_of_a_sample(response: Response, delay: float) -> None:
    """A delay of any fraction is in the phase to a ten-thousandth of a sample."""
    still, moved = _read(recorded(response)), _read(recorded(response, delay=delay))
    inside = _inside(still, 200.0)
    omega = 2 * np.pi * still.f_hz[inside]
    found = (moved.start - still.start) + (moved.delay_s - still.delay_s) * SHORT.rate_hz
    assert found == pytest.approx(delay, abs=1e-4)
    left = moved.up * still.up.conj()
    shift = (delay - moved.start + still.start) / SHORT.rate_hz
    assert np.max(np.abs(np.angle(left[inside] * np.exp(1j * omega * shift)))) < 3e-4


def test_polarity_is_kept() -> None:
    """A recording upside down reads minus one."""
    reading = _read(-recorded(delay=0.3))
    assert np.max(np.abs(np.abs(reading.up) - 1)) < 1e-6
    assert float(np.mean(reading.up[(reading.f_hz > 50) & (reading.f_hz < 500)].real)) < -0.99


def test_bands_equal_direct_sums() -> None:
    """Five bands against Fourier sums written out one frequency at a time."""
    samples = recorded(low_pass(2000.0), delay=0.4, noise=1e-3, seed=5)
    reading = _read(samples)
    kernel, layout = sweep_kernel(SHORT), layout_of(SHORT)
    up = layout.segment("up")
    played = recorded(head=0, tail=0)[up.start : up.stop]
    early = round(0.02 * SHORT.rate_hz)  # the window begins 20 ms before the sweep
    begin = reading.start + up.start - early
    stop = reading.start + layout.segment("rest").stop - early
    lead = layout.segment("lead").length
    heard = samples[begin:stop] - samples[reading.start : reading.start + lead].mean()
    assert len(heard) <= kernel.n_fft
    step = SHORT.rate_hz / kernel.n_fft
    edges = [*kernel.edges, kernel.last - kernel.first]
    for band in (3, 60, 120, 180, 260):
        bins = range(kernel.first + edges[band], kernel.first + edges[band + 1])
        delay = reading.delay_s * SHORT.rate_hz + early
        centre = kernel.f_hz[band] / step
        slow = band_response(played, heard, bins[:8], kernel.n_fft, centre, delay)
        slow *= np.exp(2j * np.pi * centre * early / kernel.n_fft)
        if len(bins) <= 8:
            assert reading.up[band] == pytest.approx(slow, abs=1e-6)
        else:
            # Part of a wider band: as near as its noise lets it be.
            doubt = math.sqrt(reading.var[band] * len(bins) / 8)
            assert abs(reading.up[band] - slow) < 4 * doubt + 0.02 * abs(slow)


def test_band_centres_make_a_slope_exact() -> None:
    """A response that changes linearly with frequency is averaged without error."""
    kernel = sweep_kernel(SHORT)
    bins = np.arange(kernel.first, kernel.last) * (SHORT.rate_hz / kernel.n_fft)
    power = np.abs(kernel.spectrum) ** 2
    mean = kernel.band_sums((power * (3 - bins / 7000)).astype(np.complex128)) / kernel.energy
    assert np.max(np.abs(mean - (3 - kernel.f_hz / 7000))) < 1e-12


@pytest.mark.parametrize("signal", [plan_signal(44_100), SHORT, plan_signal(96_000, 2.0)])
def test_every_band_is_swept_whole(signal: Signal) -> None:
    """No band reaches below the start or into the fade at the end, and none is left out between.

    The spectrum of such a sweep falls with the square root of frequency (Farina 2000); in the last
    band it still does.
    """
    kernel = sweep_kernel(signal)
    step = kernel.rate_hz / kernel.n_fft
    assert (kernel.first - 0.5) * step >= signal.f1_hz
    assert (kernel.last - 0.5) * step <= signal.full_to_hz + step
    assert (kernel.last - 0.5) * step > signal.full_to_hz * 2 ** (-1 / 48) - step
    bins = np.diff(np.append(kernel.edges, kernel.last - kernel.first))
    flat = 10 * np.log10(kernel.energy / bins * kernel.f_hz)
    assert flat[-1] == pytest.approx(np.median(flat), abs=0.7)


def test_harmonics_do_not_lift_the_last_band() -> None:
    """Behind a steep filter a clipped sweep's last bands fall like those before them.

    The clipped start of the downward sweep and harmonics of either are louder there than the
    sweep itself while it fades.
    """
    samples = np.tanh(40 * recorded(wire))
    steep = np.fft.rfft(samples)
    steep /= np.maximum(1, np.fft.rfftfreq(len(samples)) * SHORT.rate_hz / 5000.0) ** 2
    reading = _read(np.fft.irfft(steep, len(samples)))
    level = 20 * np.log10(np.abs(reading.up + reading.down))
    assert level[-1] < level[-8] + 1.0


@pytest.mark.parametrize("stretch", [30e-6, -100e-6, 150e-6])
def test_two_clocks_leave_the_level_right(stretch: float) -> None:
    """The ratio of the clocks is found to 0.05 ppm and taken out of level and phase."""
    samples = other_clock(recorded(low_pass(9000.0), head=700, delay=0.3), stretch)
    reading = _read(samples)
    assert reading.stretch == pytest.approx(stretch, abs=5e-8)
    mean = (reading.up + reading.down) / 2
    inside = _inside(reading, 50.0, 0.9)
    level = 20 * np.log10(np.abs(mean / low_pass(9000.0)(reading.f_hz)))
    assert np.max(np.abs(level[inside])) < 2e-3
    apart = np.abs(reading.up / reading.down - 1)
    assert np.max(apart[inside]) < 1e-3


def test_check_channel_has_its_own_delay() -> None:
    """The check cable is read like the path, with its own arrival."""
    path, check = recorded(low_pass(5000.0), delay=40.7), recorded(delay=0.2)
    reading = _read(path, check)
    assert reading.check is not None
    inside = _inside(reading)
    shift = (0.2 + 500 - reading.start) / SHORT.rate_hz
    expected = np.exp(-2j * np.pi * reading.f_hz * shift)
    assert np.max(np.abs(reading.check - expected)[inside]) < 5e-6
    assert len(reading.check_tones) == 12


def test_tones_read_level_and_phase() -> None:
    """Tones through a pole: level and phase of the closed form at their frequencies."""
    reading = _read(recorded(low_pass(2000.0), noise=1e-6))
    assert len(reading.tones) == 12
    at = np.exp(
        2j * np.pi * np.array([t.f_hz for t in reading.tones]) * (reading.start - 500) / 48e3
    )
    expected = low_pass(2000.0)(np.array([t.f_hz for t in reading.tones])) * at
    for tone, value in zip(reading.tones, expected, strict=True):
        assert tone.level_dbfs - tone.played_dbfs == pytest.approx(
            20 * math.log10(abs(value)), abs=2e-3
        )
        assert tone.phase_rad == pytest.approx(float(np.angle(value)), abs=2e-3)
        assert tone.u_level_db < 2e-3


@pytest.mark.parametrize("noise", [1e-6, 1e-4])
def test_noise_density_of_white_noise(noise: float) -> None:
    """White noise of standard deviation s has the one-sided density 2 s²/rate."""
    reading = _read(recorded(noise=noise, seed=8))
    inside = (reading.noise_f_hz > 50) & (reading.noise_f_hz < 23_000)
    mean = float(np.mean(reading.noise_psd[inside]))
    assert mean == pytest.approx(2 * noise**2 / SHORT.rate_hz, rel=0.03)


def test_sine_in_the_silence_keeps_its_power() -> None:
    """Summed over a line the density gives half the squared amplitude (Hann, any frequency)."""
    samples = recorded(noise=1e-7)
    samples += 1e-4 * np.sin(2 * np.pi * 217.3 * np.arange(len(samples)) / SHORT.rate_hz)
    reading = _read(samples)
    near = np.abs(reading.noise_f_hz - 217.3) < 20
    step = reading.noise_f_hz[1]
    assert float(np.sum(reading.noise_psd[near]) * step) == pytest.approx(0.5e-8, rel=0.02)


def test_stated_variance_is_the_scatter() -> None:
    """Over 60 seeds the variance of the response is what the silence says, within its own doubt."""
    noise = 1e-4
    readings = [_read(recorded(low_pass(4000.0), noise=noise, seed=s)) for s in range(60)]
    for side in ("up", "down"):
        values = np.array([getattr(r, side) for r in readings])
        scatter = np.var(values, axis=0, ddof=1)
        stated = np.mean([r.var for r in readings], axis=0)
        ratio = scatter / stated
        # Each ratio has 118 degrees of freedom: ±13 %, and their mean over the grid far less.
        assert float(np.mean(ratio)) == pytest.approx(1.0, abs=0.06)
        assert float(np.std(ratio)) < 0.25


def test_the_rest_between_the_sweeps_is_silence_enough() -> None:
    """Where lead and tail were cut off, the pause after the upward sweep tells the noise."""
    samples = recorded(noise=1e-4, seed=4, head=0, tail=0)
    layout = layout_of(SHORT)
    begin = layout.segment("up").start - 100
    cut = samples[begin : layout.segment("down").stop + 3000]
    located = Located(-begin, 100.0, 0.0, 1, False, ("lead", "tail"))
    reading = read_take(
        cut[:, None],
        SHORT,
        located,
        run_id="",
        recording="",
        number=1,
        path_channel=0,
        check_channel=None,
    )
    assert {tone.block for tone in reading.tones} == {"tones_between"}
    assert 0.8 < np.median(reading.var / _read(samples).var) < 1.25


def test_cut_sweeps_and_foreign_rates_are_refused() -> None:
    """Nothing is read from a take without its sweeps, or at another sample rate."""
    samples = recorded()[:, None]
    arguments = {
        "run_id": "",
        "recording": "",
        "number": 1,
        "path_channel": 0,
        "check_channel": None,
    }
    with pytest.raises(ArgumentError, match="no down"):
        read_take(samples, SHORT, Located(0, 50.0, 0.0, 1, False, ("down",)), **arguments)
    with pytest.raises(ArgumentError, match=r"-8\.12 %"):
        read_take(samples, SHORT, Located(0, 50.0, -0.08125, 1, True), **arguments)


def test_silent_path_reads_noise_and_says_so() -> None:
    """Of a silent path the response is as small as its stated doubt."""
    rng = np.random.default_rng(6)
    samples = 1e-5 * rng.standard_normal((layout_of(SHORT).length + 2000, 1))
    (located,) = locate_takes(samples[:, 0], SHORT, expected_start=1000)
    reading = read_take(
        samples,
        SHORT,
        located,
        run_id="",
        recording="",
        number=1,
        path_channel=0,
        check_channel=None,
    )
    size = np.abs(reading.up) ** 2 / reading.var
    assert float(np.median(size)) == pytest.approx(math.log(2), rel=0.2)


@pytest.mark.parametrize("least", [1, 2, 7, 97, 4099, 460_001])
def test_fast_lengths(least: int) -> None:
    """The next product of 2, 3 and 5: compared with trying every number."""
    n = least
    while True:
        rest = n
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            break
        n += 1
    assert fast_length(least) == n
