"""What an analysis leaves: facts of every run, findings, result; no samples."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.arrays import F64
from loopback.examination.records import Examination, Run
from loopback.examination.reference_record import Sitting
from loopback.identify.chain_found import ChainMatrix, Witness
from loopback.identify.learned import SetupLearned
from loopback.noise.figures import NoiseFigures
from loopback.player.chain import ChainFound
from loopback.player.device import Device
from loopback.quality.behaviour import Behaviour
from loopback.quality.finding import Finding
from loopback.quantity import Estimate
from loopback.response.band import Corner
from loopback.response.bleed import Bleed
from loopback.response.reading import Ratio, RunResponse
from loopback.switching.result import PressFigures, TapFigures
from loopback.verdict.expected import Expected
from loopback.verdict.faults.record import Fault
from loopback.verdict.glance import html_table, result_line
from loopback.verdict.passing import RunState
from loopback.verdict.result import Result


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What one pedal run shows against its reference.

    Parameters
    ----------
    run : Run
        As recorded.
    response : RunResponse or None
        None when no take of it can be used.
    ratio : Ratio or None
        None without a reference of the same feed and load.
    level : Estimate or None
        Level against the reference, 200 Hz to 2 kHz, dB.
    treble : tuple of (float, Estimate)
        Level at 5, 10, 15, 20 kHz against 1 kHz, dB, as far as measured.
    corners : tuple of Corner
        Frequencies of -0.1, -1 and -3 dB, low and high.
    polarity : int or None
        +1 or -1 against the reference.
    delay : Estimate or None
        Seconds against the reference; None when opening the stream hides it.
    noise, noise_over_reference : NoiseFigures or None, Estimate or None
        Of the silence; the difference in dB, None without both.
    noise_f_hz, noise_psd : ndarray of float64 or None
        Density of the silence, full scale squared per hertz; None where nothing was quiet enough
        or long enough to tell.
    behaviour : Behaviour or None
        Tones, distortion, change with time, latency; None where they were not looked for.
    state : {"passes", "altered", "open", "short"} or None
        Whether it lets a signal through; None for a reference, and where it cannot be told.
    """

    run: Run
    response: RunResponse | None
    ratio: Ratio | None
    level: Estimate | None
    treble: tuple[tuple[float, Estimate], ...]
    corners: tuple[Corner, ...]
    polarity: int | None
    delay: Estimate | None
    noise: NoiseFigures | None
    noise_over_reference: Estimate | None
    noise_f_hz: F64 | None = None
    noise_psd: F64 | None = None
    behaviour: Behaviour | None = None
    state: RunState | None = None


@dataclass(frozen=True, slots=True, repr=False)
class Analysis:
    """Everything known about one examination; what screen, page and JSON are written from.

    Parameters
    ----------
    examination : Examination
        The document.
    references, pedal_runs : tuple of RunFacts
        Coupler runs and pedal runs, in the order made.
    findings : tuple of Finding
        All gates, all runs.
    result : Result
        The three lines.
    matrix : ChainMatrix or None
        A, B, C, D in bypass; None without runs at two feeds and two loads.
    witnesses : tuple of Witness
        ``AD - BC`` from a second load, and from a reversed run; what there is of them.
    device : Device or None
        The pedal in bypass as a player has it in the line; None where the path is not known.
    player : ChainFound or None
        What it changes with ordinary leads and an ordinary amplifier.
    footswitch, taps : PressFigures, TapFigures or None
        Of the latest run of either kind; None: there is none.
    expected : tuple of Expected
        The result held to what a build sheet promises; empty: nothing was expected.
    bleed : tuple of Bleed
        What gets across between effect and bypass; empty where the runs do not show it.
    sitting : Sitting or None
        What the references show of the setup itself; None where no setup was found.
    learned : SetupLearned or None
        How steady the setup is, by all of its references so far; the intervals are made of it.
    faults : tuple of Fault
        What may be wrong inside the pedal, the best supported first; in words:
        `loopback.verdict.sentences_faults.fault_words`. Empty for a healthy pedal.
    """

    examination: Examination
    references: tuple[RunFacts, ...]
    pedal_runs: tuple[RunFacts, ...]
    findings: tuple[Finding, ...]
    result: Result
    matrix: ChainMatrix | None = None
    witnesses: tuple[Witness, ...] = ()
    device: Device | None = None
    player: ChainFound | None = None
    footswitch: PressFigures | None = None
    taps: TapFigures | None = None
    expected: tuple[Expected, ...] = ()
    bleed: tuple[Bleed, ...] = ()
    sitting: Sitting | None = None
    learned: SetupLearned | None = None
    faults: tuple[Fault, ...] = ()

    def __repr__(self) -> str:
        runs = len(self.references) + len(self.pedal_runs)
        return f"<Analysis of {runs} runs: {result_line(self.result, self.examination.pedal.name)}>"

    def _repr_html_(self) -> str:
        return html_table(self.result, self.examination.pedal.name)
