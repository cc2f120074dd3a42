"""Examinations to be read, and simulated ones to be made."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from loopback.errors import ArgumentError
from loopback.examination.records import Pedal
from loopback.examination.stored import StoredExamination
from loopback.guided.simulated_sitting import SimulatedSitting
from loopback.plan.plans import PLANS, PlanName


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
