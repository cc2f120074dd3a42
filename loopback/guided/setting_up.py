"""Carry out the steps of setting up with a rig and somebody's hands, and keep what was found."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import msgspec

from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.guided.hearing import Heard, hear
from loopback.guided.setup_asked import (
    AskText,
    Listen,
    ListenShort,
    PlayTone,
    SetupAnswer,
    SetupOutcome,
    Steps,
)
from loopback.guided.sitting import Hands
from loopback.meter.listen import Heard as HeardShort
from loopback.meter.listen import hear as hear_short
from loopback.plan.events import Ask, Show, Tell
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Rig, RunRequest
from loopback.signal.take import plan_signal

QUICK_SWEEP_S = 1.0
"""Length of the sweeps of setting up, but for the unplugged run that examinations share."""


class SetupHands(Hands, Protocol):
    """Hands that also answer with values."""

    def ask_text(self, ask: AskText) -> str:
        """Answer with a value."""
        ...


RigFor = Callable[[bool], Rig]
"""Makes the rig, with the check cable or without."""


def carry_out(
    steps: Steps,
    rig_for: RigFor,
    hands: SetupHands,
    sweep_s: float,
    plug_rig: Callable[[], Rig] | None = None,
) -> SetupOutcome:
    """Answer every request of `loopback.guided.setup_steps.set_up`.

    Parameters
    ----------
    steps : Steps
        Just made.
    rig_for : callable
        See `RigFor`.
    hands : SetupHands
        Whoever plugs and reads.
    sweep_s : float
        Length of the sweeps of the examinations to come.
    plug_rig : callable or None
        Makes the rig on which the check plug is; None: the one that is there.

    Returns
    -------
    SetupOutcome
        What was found.

    Raises
    ------
    StoppedError, RigError
        See `set_up`; RigError also from the rig.
    """
    answer: SetupAnswer = None
    rigs: dict[bool, Rig] = {}
    plug: Rig | None = None
    number = 0
    while True:
        try:
            request = steps.send(answer)
        except StopIteration as end:
            outcome: SetupOutcome = end.value
            return outcome
        answer = None
        match request:
            case Show():
                hands.show(request)
            case Tell():
                hands.tell(request)
            case Ask():
                answer = hands.ask(request)
            case AskText():
                answer = hands.ask_text(request)
            case PlayTone():
                _tone(request, _any(rigs, rig_for))
            case ListenShort():
                if plug is None:
                    plug = _any(rigs, rig_for) if plug_rig is None else plug_rig()
                answer = _heard_short(request, plug)
            case Listen():
                number += 1
                if request.check not in rigs:
                    rigs[request.check] = rig_for(request.check)
                answer = _heard(request, rigs[request.check], number, sweep_s)


def keep_unplugged(path: Path, outcome: SetupOutcome, setup: Setup, sweep_s: float) -> bool:
    """Keep the unplugged run, so that every examination made with this setup can share it.

    Parameters
    ----------
    path : Path
        Folder to make.
    outcome : SetupOutcome
        Of setting up.
    setup : Setup
        For the record.
    sweep_s : float
        Length of its sweeps.

    Returns
    -------
    bool
        False when it was played at another sample rate or above the working level, and is of no
        use then.

    Raises
    ------
    FolderError
        If the folder cannot be written to.
    """
    heard = outcome.unplugged
    lower = heard.signal.level_dbfs - outcome.level_dbfs
    if heard.signal.rate_hz != outcome.rate_hz or lower > 0:
        return False
    signal = plan_signal(outcome.rate_hz, sweep_s, outcome.level_dbfs, outcome.level_dbfs)
    folder = ExaminationFolder.create(path, Pedal("(nothing plugged in)"), setup, signal)
    label = msgspec.structs.replace(heard.label, level_db=lower)
    run_id = ""
    for recorded in heard.recorded:
        if run_id:
            folder.append_recording(run_id, recorded, "", 0)
        else:
            run_id, _ = folder.append_run_with(label, recorded, "", 0)
    return True


def _heard(listen: Listen, rig: Rig, number: int, sweep_s: float) -> Heard:
    seconds = sweep_s if listen.label.path == "unplugged" else QUICK_SWEEP_S
    signal = plan_signal(listen.rate_hz, seconds, listen.level_dbfs, listen.level_dbfs)
    recorded = list(rig.play(RunRequest(listen.label, signal, 1, listen.silence_s)))
    facts = rig.facts()
    # A second input may be listened to without any check cable, to find a lead in the wrong one.
    check = facts.check_channel if listen.check else None
    return hear(number, listen.label, signal, recorded, facts.path_channel or 0, check)


def _heard_short(listen: ListenShort, rig: Rig) -> tuple[HeardShort, ...]:
    channel = rig.facts().path_channel or 0
    return tuple(
        hear_short(recorded.samples[:, channel], listen.signal)
        for recorded in rig.play(RunRequest(listen.label, listen.signal, listen.takes))
        if recorded.samples is not None and recorded.kind == "sweep"
    )


def _any(rigs: dict[bool, Rig], rig_for: RigFor) -> Rig:
    """Take the rig that is there, rather without the check cable; make one if there is none."""
    if not rigs:
        rigs[False] = rig_for(False)
    return rigs[min(rigs)]


def _tone(tone: PlayTone, rig: Rig) -> None:
    signal = plan_signal(tone.rate_hz, QUICK_SWEEP_S, tone.level_dbfs, tone.level_dbfs)
    for _ in rig.play(RunRequest(RunLabel("coupler", "plain"), signal, 0, tone_s=tone.seconds)):
        pass
