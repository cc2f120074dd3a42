"""A pedal, two leads and a portable recorder, as a program of its own: files in, files out.

It shares no memory with the analysis and knows nothing of an examination. It reads the signal file
that was written for it, plays it through the simulator once for each hook-up named, and leaves one
sound file per hook-up, in order, each as `Recorder` says::

    python -m tests.reference.portable_recorder SIGNAL.wav PEDAL SEED OUT '{"gain_db": -6}' NAME...
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np
import soundfile
from numpy.typing import NDArray

from loopback.examination.signal_file import read_sheet
from loopback.plan.naming import read_name
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig, simulated_rig
from loopback.signal.take import Signal, render_take
from loopback.simulate.damage_process import drift_clock

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Recorder:
    """What it does to a recording; by default nothing at all."""

    suffix: str = ".wav"
    subtype: str = "PCM_24"
    lead_in_s: float = 0.0
    gain_db: float = 0.0
    clock_ppm: float = 0.0
    extra_before: int = 0
    extra_behind: int = 0
    takes_in_one: bool = True

    def files(self, takes: list[Real], seed: int, rate_hz: int) -> list[Real]:
        """Recordings of one hook-up."""
        rng = np.random.default_rng(seed)
        joined = [np.concatenate(takes)] if self.takes_in_one else takes
        return [self._file(samples, rng, rate_hz) for samples in joined]

    def _file(self, samples: Real, rng: np.random.Generator, rate_hz: int) -> Real:
        def quiet(shape: tuple[int, ...]) -> Real:
            return rng.normal(0.0, 1e-5, shape)

        samples = samples[:, :1] * 10 ** (self.gain_db / 20)
        if self.lead_in_s:
            lead = round(rate_hz * self.lead_in_s * rng.uniform(0.5, 1.0))
            samples = np.concatenate([quiet((lead, 1)), samples, quiet((lead // 2, 1))])
        if self.clock_ppm:  # with the lead-in, so that no two files begin at the same fraction
            samples = drift_clock(samples, self.clock_ppm)
        before = quiet((len(samples), self.extra_before))
        behind = quiet((len(samples), self.extra_behind))
        return np.concatenate([before, samples, behind], axis=1)


def signal_of(file: Path) -> Signal:
    """What a signal file holds, by the sheet beside it; the samples are held against it."""
    signal = read_sheet(file).signal
    samples, rate = soundfile.read(file, always_2d=True)
    take = render_take(signal)
    if rate != signal.rate_hz or np.max(np.abs(samples[: len(take), 0] - take)) > 2**-23:
        raise SystemExit(f"{file} does not hold what its sheet says")
    return signal


def takes_of(rig: SimulatedRig, label: RunLabel, signal: Signal) -> list[Real]:
    """Both takes of one hook-up as the interface hands them over."""
    played = [recorded.samples for recorded in rig.play(RunRequest(label, signal, 2))]
    return [samples for samples in played if samples is not None]


def main(signal_file: str, pedal: str, seed: str, out: str, how: str, *names: str) -> None:
    """Play and record every hook-up, in order."""
    signal = signal_of(Path(signal_file))
    recorder = msgspec.json.decode(how, type=Recorder)
    rig = simulated_rig(pedal, int(seed))
    for number, name in enumerate(names):
        takes = takes_of(rig, read_name(name).label, signal)
        files = recorder.files(takes, number, signal.rate_hz)
        for take, samples in enumerate(files, start=1):
            stem = name if len(files) == 1 else f"{name}-take{take}"
            target = Path(out) / f"{stem}{recorder.suffix}"
            soundfile.write(target, samples, signal.rate_hz, subtype=recorder.subtype)


if __name__ == "__main__":
    main(*sys.argv[1:])
