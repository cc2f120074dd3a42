"""Hands that do what a test says, and remember all they were shown, told and asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.guided.looking import Onlooker
from loopback.guided.setup_asked import AskText
from loopback.guided.sitting import sit
from loopback.plan.events import Ask, Done, Key, Show, Tell
from loopback.plan.guide_state import begin, resume
from loopback.plan.plans import PLANS, Plan, TableFacts
from loopback.rig.protocol import Rig
from loopback.signal.take import Signal, plan_signal

SHORT = plan_signal(48_000, 1.0)
FACTS = TableFacts(resistor_ohm=100e3, resistor_tolerance=0.01)


class ScriptedHands:
    """Answers every doubt with the next of some keys, texts likewise, all else by default."""

    def __init__(
        self,
        doubts: Iterable[Key] = (),
        texts: Iterable[str] = (),
        before: Callable[[Show], None] = lambda _show: None,
    ) -> None:
        self._doubts, self._texts, self._before = list(doubts), list(texts), before
        self.shown: list[Show] = []
        self.told: list[Tell] = []
        self.asked: list[Ask] = []
        self.takes: list[int] = []

    def show(self, show: Show) -> None:
        """Remember, and let the test do what is asked for."""
        self.shown.append(show)
        self._before(show)

    def ask(self, ask: Ask) -> Key:
        """Answer."""
        self.asked.append(ask)
        keys = {choice.key for choice in ask.choices}
        if keys & {"repeat", "press", "yes"} and self._doubts:
            return self._doubts.pop(0)
        return ask.default

    def ask_text(self, ask: AskText) -> str:
        """Answer with a value."""
        return self._texts.pop(0) if self._texts else ask.default

    def tell(self, tell: Tell) -> None:
        """Remember."""
        self.told.append(tell)

    def take(self, number: int) -> None:
        """Remember."""
        self.takes.append(number)

    def bad(self) -> list[str]:
        """Everything that was told with an exclamation mark."""
        return [tell.text for tell in self.told if tell.mark == "bad"]

    def looks(self) -> list[str]:
        """Everything that is worth a look."""
        return [tell.text for tell in self.told if tell.mark == "look"]

    def all_text(self) -> str:
        """All that was told."""
        return "\n".join(" ".join((tell.text, *tell.more)) for tell in self.told)


def short_plan(name: str, *, silence: bool = False) -> Plan:
    """A plan without its long silences."""
    from dataclasses import replace

    plan = next(plan for plan in PLANS.values() if plan.name == name)
    if silence:
        return plan
    return replace(plan, steps=tuple(replace(step, silence_s=0.0) for step in plan.steps))


def sit_down(
    path: Path,
    rig: Rig,
    plan: Plan,
    hands: ScriptedHands,
    *,
    signal: Signal = SHORT,
    facts: TableFacts = FACTS,
) -> tuple[ExaminationFolder, Done]:
    """Measure into a folder, new or begun."""
    if (path / "examination.json").exists():
        folder = ExaminationFolder.open(path)
    else:
        setup = Setup("simulator", "", facts.resistor_ohm, facts.resistor_tolerance)
        folder = ExaminationFolder.create(path, Pedal("lamp"), setup, signal)
    onlooker = Onlooker(folder)
    state = resume(begin(plan, "lamp", facts), onlooker.summaries())
    return folder, sit(state, folder, rig, hands, onlooker)
