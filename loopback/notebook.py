"""The package from a notebook or a script: examinations, analysis, curves and figures.

Everything here is reached from the package itself, and nothing is written but what is asked for:

>>> import tempfile
>>> from pathlib import Path
>>> import loopback
>>> with tempfile.TemporaryDirectory() as place:
...     path = Path(place, "quarry-lamp")
...     exam = loopback.simulate_examination(path, "quarry-lamp", plan="quick", sweep_s=1.0)
...     analysis = loopback.analyse(exam)
>>> exam
<ExaminationFolder of 'Quarry Lamp': 5 runs, 12 recordings>
>>> analysis.result.path, analysis.result.power
('loaded', 'bypass_position')
>>> low, high = analysis.result.shunt.g_siemens.interval(0.95)
>>> low < 1e-6 < high  # the 1 MΩ in its circuit
True
>>> (curve,) = loopback.curves(analysis, "insertion", power="on", in_bypass=True)
>>> curve.name, curve.unit, curve.f_hz.shape == curve.value.shape
('02* on, as found, 100 kΩ', 'dB', True)
>>> picture = loopback.figure(analysis, "insertion")
>>> type(picture).__name__
'Figure'

A cell that ends in an analysis shows its three lines. Numbers with doubt are `Estimate`; arrays of
frequency are in hertz.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.examination.records import Pedal
from loopback.examination.stored import StoredExamination
from loopback.facts import Analysis, RunFacts
from loopback.guided.simulated_sitting import SimulatedSitting
from loopback.plan.plans import PLANS, PlanName
from loopback.plan.runs import Feed, Position, Power
from loopback.quantity import coverage_factor
from loopback.report.run_names import is_bypass, run_name
from loopback.response.band import level_db

if TYPE_CHECKING:
    from loopback.report.figures.writing import Figure

CurveKind = Literal["insertion", "phase", "noise"]
PictureName = Literal["insertion", "zoom", "noise", "harmonics"]


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve of one run, as arrays.

    Parameters
    ----------
    name : str
        Of the run, as beside its curve in a picture; a star marks bypass.
    run_id : str
        Id of the run in its examination.
    feed : {"plain", "resistor"}
        The lead.
    power : {"on", "off"} or None
        None for a reference.
    position : {"a", "b", "none"} or None
        Footswitch: as found, pressed once, or there is none; None for a reference.
    in_bypass : bool
        Whether the data found this position to be bypass.
    unit : str
        Of `value` and `half_width`: ``"dB"``, ``"degree"`` or ``"dBFS/Hz"``.
    f_hz : ndarray of float64, shape (k,)
        Rising frequencies, hertz.
    value : ndarray of float64, shape (k,)
        In `unit`.
    half_width : ndarray of float64, shape (k,) or None
        Half of the 95 % interval in `unit`, drift of the gain included; None: not computed for
        this kind.
    """

    name: str
    run_id: str
    feed: Feed
    power: Power | None
    position: Position | None
    in_bypass: bool
    unit: str
    f_hz: F64 = field(repr=False)
    value: F64 = field(repr=False)
    half_width: F64 | None = field(repr=False)


def open_examination(path: str | Path) -> StoredExamination:
    """Open the folder of one pedal, to be read.

    Parameters
    ----------
    path : str or Path
        The folder, as `loopback measure`, `add` or `demo` left it.

    Returns
    -------
    StoredExamination
        Its `document` says what was measured, how, and with what; `path_of` leads to the file of
        a recording.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If its document is damaged or newer than this program.

    Examples
    --------
    >>> import tempfile
    >>> from loopback import read_samples
    >>> with tempfile.TemporaryDirectory() as place:
    ...     place = place + "/tidal-clock"
    ...     made = simulate_examination(place, "tidal-clock", plan="quick", sweep_s=1.0)
    ...     exam = open_examination(place)
    ...     samples, rate_hz = read_samples(exam.path_of(exam.document.runs[0].recordings[0]))
    >>> exam.document.pedal.name, exam.document.setup.resistor_ohm
    ('Tidal Clock', 100000.0)
    >>> exam.document.runs[1].label.path, samples.shape[1], rate_hz
    ('pedal', 1, 48000)
    """
    return StoredExamination.open(path)


def simulate_examination(
    path: str | Path,
    circuit: str | Path,
    *,
    name: str = "",
    plan: PlanName = "standard",
    rate_hz: int = 48_000,
    sweep_s: float = 2.0,
    seed: int = 1,
    check_cable: bool = False,
    mistakes: Iterable[str] = (),
) -> StoredExamination:
    """Measure a simulated pedal: interface, leads and hands are simulated too.

    Parameters
    ----------
    path : str or Path
        Folder to make.
    circuit : str or Path
        Name of a simulated pedal, or the path of a pedal file of your own.
    name : str
        What the pedal is called; empty: after the circuit.
    plan : {"quick", "standard", "full", "no_resistor"}
        Which runs.
    rate_hz : int
        Sample rate.
    sweep_s : float
        Length of each sweep, seconds. Shorter than at a table, where nobody waits for a computer.
    seed : int
        Of everything random; the same seed gives the same recordings.
    check_cable : bool
        Whether a spare output is joined to a spare input, which holds the delay.
    mistakes : iterable of str
        What the hands do wrong, such as ``"coupler-left-in:2"``.

    Returns
    -------
    StoredExamination
        Complete, for `analyse`.

    Raises
    ------
    ArgumentError
        If there is no such circuit, plan or mistake.
    FolderError
        If there is an examination already.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     exam = simulate_examination(place + "/bell", "harbour-bell", plan="quick", sweep_s=1.0)
    >>> [run.label.path for run in exam.document.runs]
    ['coupler', 'pedal', 'pedal', 'pedal', 'coupler']
    """
    if plan not in PLANS:
        raise ArgumentError(f'There is no plan "{plan}".', "", f"There are: {', '.join(PLANS)}.")
    called = name or Path(circuit).stem.replace("-", " ").title()
    sitting = SimulatedSitting(
        circuit,
        plan,
        rate_hz,
        sweep_s,
        seed=seed,
        check_cable=check_cable,
        mistakes=tuple(mistakes),
    )
    return sitting.play_into(Path(path), Pedal(called))


def curves(
    analysis: Analysis,
    kind: CurveKind = "insertion",
    *,
    feed: Feed | None = None,
    power: Power | None = None,
    in_bypass: bool | None = None,
) -> tuple[Curve, ...]:
    """Take the curves of an analysis as arrays.

    Parameters
    ----------
    analysis : Analysis
        From `loopback.analyse`.
    kind : {"insertion", "phase", "noise"}
        insertion: level of each pedal run over its reference, dB. phase: the same ratio's,
        unwrapped, degrees. noise: density in the silence of every run, references included, dBFS
        in 1 Hz.
    feed : {"plain", "resistor"} or None
        Only runs with this lead; None: both.
    power : {"on", "off"} or None
        Only runs with this supply; None: all.
    in_bypass : bool or None
        Only runs in bypass, or only all others; None: all.

    Returns
    -------
    tuple of Curve
        In the order of the runs; empty where no run fits.

    Raises
    ------
    ArgumentError
        If `kind` is none of those named.

    Examples
    --------
    >>> import tempfile
    >>> import numpy as np
    >>> from loopback import analyse
    >>> with tempfile.TemporaryDirectory() as place:
    ...     made = simulate_examination(place + "/lamp", "quarry-lamp", plan="quick", sweep_s=1.0)
    ...     analysis = analyse(made)
    >>> unpowered = curves(analysis, "insertion", power="off")[0]
    >>> round(float(np.interp(1000.0, unpowered.f_hz, unpowered.value)), 1)  # 1 MΩ, 100 kΩ feed
    -0.7
    """
    if kind not in ("insertion", "phase", "noise"):
        raise ArgumentError(
            f'There are no curves of kind "{kind}".', "", "There are: insertion, phase, noise."
        )
    runs = analysis.pedal_runs
    if kind == "noise":
        runs = (*analysis.references, *runs)
    found = (_curve(facts, kind, analysis.result.bypass_position) for facts in runs)
    return tuple(
        curve
        for curve in found
        if curve is not None
        and feed in (None, curve.feed)
        and power in (None, curve.power)
        and in_bypass in (None, curve.in_bypass)
    )


def figure(analysis: Analysis, picture: PictureName = "insertion") -> Figure:
    """Draw a picture of an analysis.

    Parameters
    ----------
    analysis : Analysis
        From `loopback.analyse`.
    picture : {"insertion", "zoom", "noise", "harmonics"}
        insertion: every run against the cable. zoom: the same within 1 dB. noise: spectra of the
        silences. harmonics: what the path adds to a tone.

    Returns
    -------
    matplotlib.figure.Figure
        To be shown, changed, or saved with its `savefig`. In a notebook, ``%matplotlib inline``
        once shows every figure in which a cell ends.

    Raises
    ------
    ArgumentError
        If there is no such picture.

    Examples
    --------
    >>> import tempfile
    >>> from loopback import analyse
    >>> with tempfile.TemporaryDirectory() as place:
    ...     made = simulate_examination(place + "/lamp", "quarry-lamp", plan="quick", sweep_s=1.0)
    ...     analysis = analyse(made)
    ...     figure(analysis, "zoom").savefig(place + "/zoom.png", dpi=100)
    """
    from loopback.report.pictures import draw_picture  # loads the drawing library

    return draw_picture(analysis, picture)


def _curve(facts: RunFacts, kind: CurveKind, bypass: str | None) -> Curve | None:
    label = facts.run.label
    half: F64 | None = None
    if kind == "noise":
        if facts.noise_f_hz is None or facts.noise_psd is None:
            return None
        f_hz, unit = facts.noise_f_hz, "dBFS/Hz"
        value = 10 * np.log10(np.maximum(2 * facts.noise_psd, np.finfo(np.float64).tiny))
    else:
        if facts.ratio is None:
            return None
        f_hz = facts.ratio.f_hz
        if kind == "insertion":
            unit = "dB"
            value, u_db = level_db(facts.ratio)
            half = coverage_factor() * np.hypot(u_db, facts.ratio.u_gain_db)
        else:
            unit = "degree"
            value = np.degrees(np.unwrap(np.angle(facts.ratio.t)))
    return Curve(
        run_name(facts.run, bypass_position=bypass),
        facts.run.id,
        label.feed,
        label.power,
        label.position,
        is_bypass(label, bypass),
        unit,
        f_hz,
        value,
        half,
    )
