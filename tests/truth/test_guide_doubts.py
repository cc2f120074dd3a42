"""Every contradiction between a label and the data, and its harmless twin."""

from __future__ import annotations

from typing import Any

import pytest

from loopback.plan.doubts import COUPLER_DB, find_doubt
from loopback.plan.events import Notice, RunSummary
from loopback.plan.plans import PLANS, PlanStep
from loopback.plan.runs import Power, RunLabel
from loopback.plan.wording import SAME_DB

FOUND, PRESSED, LEFT, UNPOWERED_PRESS = PLANS["standard"].steps[1:5]
QUICK_UNPOWERED = PLANS["quick"].steps[3]
PLAIN_OFF, PLAIN_ON = PLANS["standard"].steps[7:9]


def run(number: int, label: RunLabel, **changes: Any) -> RunSummary:
    """A run that passes, far from all others."""
    fields: dict[str, Any] = {"usable": 2, "recorded": 2, "passes": True, "level_db": -0.5}
    return RunSummary(f"{number:02d}", label, **(fields | changes))


def pedal(power: Power, position: Any, feed: Any = "resistor") -> RunLabel:
    """A pedal's label."""
    return RunLabel("pedal", feed, power, position)


REFERENCE = run(1, RunLabel("coupler", "resistor"), passes=None, level_db=None)
BYPASS = run(2, pedal("on", "a"))
EFFECT = run(3, pedal("on", "b"), effect="14.0 dB louder", level_db=14.0, apart_db=(("02", 14.0),))
OFF_B = run(4, pedal("off", "b"), passes=False, level_db=-60.0)
OFF_A = run(4, pedal("off", "a"))

CASES: list[tuple[str, RunSummary, list[RunSummary], PlanStep, str | None]] = [
    ("coupler left in", run(2, pedal("on", "a"), apart_db=(("01", 0.003),)), [REFERENCE], FOUND,
     "coupler_left_in"),
    ("half a picofarad more", run(2, pedal("on", "a"), apart_db=(("01", COUPLER_DB),)),
     [REFERENCE], FOUND, None),
    ("equal through the plain lead",
     run(8, pedal("off", "a", "plain"), apart_db=(("07", 0.001),)),
     [run(7, RunLabel("coupler", "plain"), passes=None)], PLAIN_OFF, None),
    ("press did not latch", run(3, pedal("on", "b"), apart_db=(("02", 0.003),)), [BYPASS],
     PRESSED, "no_change"),
    ("press changed it", EFFECT, [BYPASS], PRESSED, None),
    ("nothing passes in either", run(3, pedal("on", "b"), passes=False),
     [run(2, pedal("on", "a"), passes=False)], PRESSED, "dead_with_power"),
    ("mutes in one position", run(3, pedal("on", "b"), passes=False), [BYPASS], PRESSED, None),
    ("power still on",
     run(4, pedal("off", "b"), effect="14.0 dB louder", level_db=14.0, apart_db=(("03", 0.1),)),
     [BYPASS, EFFECT], LEFT, "power_left_on"),
    ("louder without power", run(4, pedal("off", "b"), effect="9.0 dB louder", level_db=9.0),
     [BYPASS], LEFT, "power_left_on"),
    ("parts that distort without power",
     run(4, pedal("off", "b"), effect="harmonics at -30 dB", level_db=-9.0,
         apart_db=(("03", 23.0),)), [BYPASS, EFFECT], LEFT, None),
    ("unpowered press did not latch",
     run(5, pedal("off", "a"), apart_db=(("04", 0.001),)),
     [BYPASS, EFFECT, run(4, pedal("off", "b"))], UNPOWERED_PRESS, "no_change"),
    ("unpowered press changed it", run(5, pedal("off", "a"), apart_db=(("04", 50.0),)),
     [BYPASS, EFFECT, OFF_B], UNPOWERED_PRESS, None),
    ("both powered positions alike anyway",
     run(5, pedal("off", "a"), apart_db=(("04", 0.001),)),
     [BYPASS, run(3, pedal("on", "b"), apart_db=(("02", 0.001),)), run(4, pedal("off", "b"))],
     UNPOWERED_PRESS, None),
    ("dead bypass without power, quick", run(4, pedal("off", "a"), passes=False),
     [BYPASS, EFFECT], QUICK_UNPOWERED, "needs_power_or_press"),
    ("dead bypass without power, standard", run(5, pedal("off", "a"), passes=False),
     [BYPASS, EFFECT, OFF_B], UNPOWERED_PRESS, "needs_power_or_press"),
    ("dead effect without power", OFF_B, [BYPASS, EFFECT], LEFT, None),
    ("power that never arrived", OFF_B, [BYPASS, run(3, pedal("on", "b"), passes=False)], LEFT,
     "power_missing"),
    ("effect where bypass was asked for",
     run(9, pedal("on", "a", "plain"), effect="14.0 dB louder", level_db=14.0), [BYPASS],
     PLAIN_ON, "effect_not_bypass"),
    ("bypass where bypass was asked for", run(9, pedal("on", "a", "plain")), [BYPASS], PLAIN_ON,
     None),
    ("passed before and not now", run(8, pedal("off", "a", "plain"), passes=False),
     [BYPASS, OFF_A], PLAIN_OFF, "passed_before"),
    ("passes now and did not before", run(8, pedal("off", "b", "plain")), [BYPASS, OFF_B],
     PLAIN_OFF, "passed_before"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "now", "before", "step", "code"), CASES, ids=[c[0] for c in CASES]
)
def test_doubts(
    what: str, now: RunSummary, before: list[RunSummary], step: PlanStep, code: str | None
) -> None:
    """The contradiction is found where there is one, and nowhere else."""
    doubt = find_doubt(now, [REFERENCE, *before], step)
    assert (doubt.code if doubt is not None else None) == code, what
    if doubt is not None:
        assert doubt.question.endswith("?")
        assert doubt.more


@pytest.mark.parametrize(
    ("notice", "found"),
    [
        (Notice("resistor_left_in", "bad", "the same as run 06", "m", "a"), True),
        (Notice("resistor_left_in", "bad", "the same", "m", "a", here=False, where="06"), False),
        (Notice("hum", "look", "mains 50 Hz", "m", "a"), False),
        (Notice("exchanged", "look", "+0.75 dB over the reference", "m", "a"), True),
    ],
)
def test_what_a_gate_refuses_is_doubted(notice: Notice, found: bool) -> None:
    """Only what is refused, or exchanged, and only in the run just made."""
    doubt = find_doubt(run(2, pedal("on", "a"), notices=(notice,)), [REFERENCE], FOUND)
    assert (doubt is not None) is found
    if doubt is not None:
        assert (doubt.code, doubt.text, doubt.more) == ("gate", notice.number, ("m", "a"))
        assert doubt.back is (notice.code == "exchanged")


def test_thresholds_leave_room_for_drift() -> None:
    """Runs of one hook-up differ by 0.003 to 0.01 dB: equality is claimed above, a pedal below."""
    assert 0.003 < COUPLER_DB <= SAME_DB < 0.1
