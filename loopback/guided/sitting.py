"""One sitting: the guide asks, hands and rig answer, and every recording is kept at once."""

from __future__ import annotations

from collections import deque
from typing import Protocol

from loopback.examination.folder import ExaminationFolder
from loopback.guided.looking import Onlooker
from loopback.plan.events import (
    Answer,
    Ask,
    Done,
    Event,
    Key,
    Play,
    RunSeen,
    Show,
    Start,
    TakeDone,
    Tell,
)
from loopback.plan.guide import advance
from loopback.plan.guide_state import GuideState
from loopback.plan.plans import signal_for
from loopback.rig.protocol import Rig, RunRequest


class Hands(Protocol):
    """Whoever reads what the guide says, does it, and answers."""

    def show(self, show: Show) -> None:
        """Read what to do now."""
        ...

    def ask(self, ask: Ask) -> Key:
        """Answer a question."""
        ...

    def tell(self, tell: Tell) -> None:
        """Read a finding."""
        ...

    def take(self, number: int) -> None:
        """Hear that a take was recorded and kept; 0: a long silence."""
        ...


def sit(
    state: GuideState, folder: ExaminationFolder, rig: Rig, hands: Hands, onlooker: Onlooker
) -> Done:
    """Go through a plan until it is complete or somebody stops.

    An exception on the way leaves the folder as valid as it was after the latest recording; a new
    sitting goes on from there.

    Parameters
    ----------
    state : GuideState
        From `loopback.plan.guide.begin`, `resume` or `again`.
    folder : ExaminationFolder
        Gets each recording as soon as it is complete.
    rig : Rig
        Plays.
    hands : Hands
        See there.
    onlooker : Onlooker
        Of the same folder.

    Returns
    -------
    Done
        How it ended.
    """
    events: deque[Event] = deque([Start()])
    done: Done | None = None
    while events:
        state, requests = advance(state, events.popleft())
        for request in requests:
            match request:
                case Show():
                    hands.show(request)
                case Tell():
                    hands.tell(request)
                case Ask():
                    events.append(Answer(hands.ask(request)))
                case Play():
                    events.extend(_played(request, folder, rig, hands, onlooker))
                case Done():
                    done = request
    if done is None:
        raise AssertionError("the guide ended without saying so")
    return done


def _played(
    play: Play, folder: ExaminationFolder, rig: Rig, hands: Hands, onlooker: Onlooker
) -> list[Event]:
    """Play, keep, look; nothing is looked at before the stream has ended."""
    table = rig.facts()
    channels = (table.path_channel, table.check_channel)
    signal = signal_for(play.label, folder.document.signal)
    run_id = play.into
    before = 0
    if run_id:
        recordings = folder.document.run(run_id).recordings
        before = sum(recording.kind == "sweep" for recording in recordings)
    number = before
    for recorded in rig.play(RunRequest(play.label, signal, play.takes, play.silence_s)):
        if run_id:
            folder.append_recording(run_id, recorded, "", *channels)
        else:
            run_id, _ = folder.append_run_with(
                play.label, recorded, "", *channels, repeats=play.repeats
            )
        number += recorded.kind == "sweep"
        hands.take(number if recorded.kind == "sweep" else 0)
    events: list[Event] = [TakeDone(*take) for take in onlooker.troubles(run_id, before + 1)]
    events.append(RunSeen(onlooker.look(run_id)))
    return events
