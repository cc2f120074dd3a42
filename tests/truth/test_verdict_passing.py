"""Which runs pass, which position is bypass, and what happens without power."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.arrays import C128
from loopback.plan.runs import Feed, Position, Power, RunLabel
from loopback.response.reading import Ratio
from loopback.verdict.codes import Family
from loopback.verdict.evidence import Evidence
from loopback.verdict.passing import RunState, build_table, judge_power, run_state
from loopback.verdict.result import PowerClass

F_HZ = np.geomspace(10.0, 40e3, 200)


def _run(
    level_db: float,
    *,
    slope_db: float = 0.0,
    feed: Feed = "plain",
    power: Power = "on",
    position: Position = "a",
    harmonics_db: float | None = -80.0,
    noise_db: float = -120.0,
    treble_db: float = 0.0,
) -> Evidence:
    level = level_db + slope_db * np.log10(F_HZ / 632.0) + treble_db * np.log2(1 + F_HZ / 5e3)
    t: C128 = np.asarray(10 ** (level / 20), dtype=np.complex128)
    ratio = Ratio(
        "x", ("r",), F_HZ, t, np.full(len(F_HZ), 10 ** (noise_db / 10) / 2), 0.002, 0.0, True,
        np.full(len(F_HZ), -65.0),
    )  # fmt: skip
    return Evidence(
        "x", RunLabel("pedal", feed, power, position), ratio,
        harmonics_db=harmonics_db, harmonics_over_reference_db=20.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("run", "state"),
    [
        (_run(0.0), "passes"),
        (_run(-3.0), "passes"),
        (_run(-20.4), "passes"),  # a volume box at half travel
        (_run(-21.7, feed="resistor"), "passes"),  # a 10 kΩ input through 100 kΩ
        (_run(-39.2, feed="resistor"), "passes"),  # 1 kΩ
        (_run(-55.4, slope_db=20.0, feed="resistor"), "open"),  # 3 pF of crosstalk
        (_run(-55.5, slope_db=20.0), "open"),
        (_run(-95.0, slope_db=20.0), "open"),
        (_run(-63.0), "short"),  # 0.1 Ω to ground from 150 Ω
        (_run(-118.0), "open"),  # in the setup's own noise
        (_run(14.0), "altered"),
        (_run(0.0, harmonics_db=-30.0), "altered"),
    ],
)
def test_state_of_one_run(run: Evidence, state: RunState) -> None:
    """A low input passes however low it takes the level; a dead path is told by its slope."""
    if run.harmonics_db == -30.0:
        run = Evidence(
            run.run_id, run.label, run.ratio, harmonics_db=-30.0, harmonics_over_reference_db=60.0
        )
    assert run_state(run) == state


def test_a_run_that_cannot_be_used_has_no_state() -> None:
    """A refused run, and one without a reference, say nothing."""
    run = _run(0.0)
    assert run_state(Evidence("x", run.label, run.ratio, refused=True)) is None
    assert run_state(Evidence("x", run.label, None)) is None


WIRE, EFFECT, DEAD = 0.0, 14.0, -55.0


def _table(rows: list[tuple[Power, Position, float]]) -> list[Evidence]:
    return [
        _run(level, slope_db=20.0 if level == DEAD else 0.0, power=power, position=position)
        for power, position, level in rows
    ]


MECHANICAL: list[tuple[Power, Position, float]] = [
    ("on", "a", EFFECT), ("on", "b", WIRE), ("off", "b", WIRE), ("off", "a", DEAD),
]  # fmt: skip
FAIL_SAFE: list[tuple[Power, Position, float]] = [
    ("on", "b", WIRE), ("on", "a", EFFECT), ("off", "a", WIRE), ("off", "b", WIRE),
]  # fmt: skip
LAST_WAS_BYPASS: list[tuple[Power, Position, float]] = [
    ("on", "a", EFFECT), ("on", "b", WIRE), ("off", "b", WIRE), ("off", "a", WIRE),
]  # fmt: skip
LAST_WAS_EFFECT: list[tuple[Power, Position, float]] = [
    ("on", "b", WIRE), ("on", "a", EFFECT), ("off", "a", DEAD), ("off", "b", DEAD),
]  # fmt: skip
ELECTRONIC: list[tuple[Power, Position, float]] = [
    ("on", "a", EFFECT), ("on", "b", WIRE), ("off", "b", DEAD), ("off", "a", DEAD),
]  # fmt: skip
BOX: list[tuple[Power, Position, float]] = [("on", "none", WIRE), ("off", "none", WIRE)]


@pytest.mark.parametrize(
    ("rows", "power", "beside", "kinds", "not_kinds"),
    [
        (MECHANICAL, "bypass_position", (), {"mechanical"}, {"electronic", "relay_latching"}),
        (FAIL_SAFE, "always", (), {"relay_fail_safe"}, {"mechanical", "relay_latching"}),
        (
            LAST_WAS_BYPASS,
            "always",
            ("keeps_last",),
            {"relay_fail_safe", "relay_latching"},
            {"mechanical"},
        ),
        (
            LAST_WAS_EFFECT,
            "never",
            ("keeps_last",),
            {"relay_latching", "electronic"},
            {"mechanical"},
        ),
        (ELECTRONIC, "never", (), {"electronic", "mechanical_with_buffer"}, {"relay_latching"}),
        (BOX, "always", (), {"passive_box"}, {"mechanical_with_buffer"}),
        (MECHANICAL[:2], "untested", (), {"mechanical", "electronic"}, set()),
        (
            MECHANICAL[:3],
            "bypass_position",
            (),
            {"mechanical", "relay_latching"},
            {"mechanical_with_buffer"},
        ),
        (
            [*MECHANICAL[:2], ("off", "a", DEAD)],
            "untested",
            (),
            {"mechanical", "electronic"},
            {"relay_fail_safe"},
        ),
        (
            [*MECHANICAL[:2], ("off", "a", WIRE)],
            "untested",  # the effect's own side may pass without power
            (),
            {"relay_fail_safe"},
            {"mechanical"},
        ),
        (
            [*MECHANICAL[:2], ("off", "b", DEAD)],
            "never",
            (),
            {"electronic"},
            {"mechanical", "relay_fail_safe"},
        ),
    ],
    ids=[
        "mechanical", "relay that falls back", "latching relay, bypass last",
        "latching relay, effect last", "electronic", "box", "no unpowered run",
        "unpowered in bypass only", "unpowered in the other only, dead",
        "unpowered in the other only, passes", "unpowered in bypass only, dead",
    ],
)  # fmt: skip
def test_power_and_switch_table(
    rows: list[tuple[Power, Position, float]],
    power: PowerClass,
    beside: tuple[PowerClass, ...],
    kinds: set[Family],
    not_kinds: set[Family],
) -> None:
    """Each family of switching gives its row of the table (common practice), whole or in part."""
    found, alternatives, families = judge_power(build_table(_table(rows)))
    assert (found, alternatives) == (power, beside)
    assert kinds <= set(families)
    assert not not_kinds & set(families)


@pytest.mark.parametrize("swapped", [False, True])
def test_the_data_say_which_position_is_bypass(swapped: bool) -> None:
    """As found may be bypass or effect; the answer follows the data."""
    rows = [
        (power, ("a" if position == "b" else "b") if swapped else position, level)
        for power, position, level in MECHANICAL
    ]
    assert build_table(_table(rows)).bypass == ("a" if swapped else "b")


def test_a_clean_effect_is_told_by_its_shape() -> None:
    """Of two clean positions the one like a cable is bypass, and that is sure."""
    table = build_table([_run(-0.2, position="a", treble_db=-1.5), _run(-0.3, position="b")])
    assert (table.bypass, table.sure) == ("b", True)


def test_two_positions_nearly_alike_are_not_sure() -> None:
    """When both look like a cable the choice is made and marked."""
    table = build_table([_run(-0.10, position="a"), _run(-0.16, position="b")])
    assert table.sure is False


def test_a_switch_that_does_nothing_is_seen() -> None:
    """Two equal positions are one: bypass is the first, and the table says they are the same."""
    table = build_table([_run(-0.10, position="a"), _run(-0.10, position="b")])
    assert (table.bypass, table.same) == ("a", True)


def test_power_of_which_nobody_said_anything_counts_as_on() -> None:
    """Runs without a power label fill the powered row."""
    run = _run(0.0)
    label = RunLabel("pedal", "plain", None, "a")
    assert dict(build_table([Evidence("x", label, run.ratio)]).powered) == {"a": "passes"}


def test_plain_runs_count_before_resistor_runs() -> None:
    """A load that takes the resistor run far down still passes by its plain run."""
    runs = [_run(-52.0, feed="resistor"), _run(-1.0, feed="plain")]
    assert build_table(runs).powered["a"] == "passes"


def test_the_last_run_of_a_kind_counts() -> None:
    """A repeated run takes the place of the earlier one."""
    runs = [_run(-60.0), _run(0.0)]
    assert build_table(runs).powered["a"] == "passes"
