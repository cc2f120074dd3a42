"""Gates between runs, on responses computed from a resistor, a lead and a load."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.examination.records import Recording, Run
from loopback.noise.figures import NoiseFigures
from loopback.plan.runs import Feed, Load, PathKind, Position, Power, RunLabel
from loopback.quality.effect import harmonic_level_db, judge_effect
from loopback.quality.gates import judge_runs
from loopback.quality.hum import judge_mains
from loopback.quality.offset import judge_level_offset
from loopback.quality.presence import judge_equal, judge_polarity, judge_same_file
from loopback.quality.seen import RunSeen, passes, references_of
from loopback.quality.steadiness import (
    capacitance_change_f,
    judge_contact,
    judge_references,
    judge_repeats,
)
from loopback.quality.wiring import (
    input_resistance_ohm,
    judge_exchanged,
    judge_feeds,
    judge_pedal_feeds,
    judge_references_present,
)
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse, TakeReading

F_HZ = np.geomspace(20.0, 22_000.0, 480)
W = 2j * np.pi * F_HZ
RESISTOR, OUTPUT, LOAD = 100e3, 150.0, 1e6
NODE_F = 400e-12


def run(
    run_id: str,
    path: PathKind,
    feed: Feed,
    *,
    shunt_f: float = 0.0,
    shunt_s: float = 0.0,
    gain_db: float = 0.0,
    load_ohm: float = LOAD,
    really: Feed | None = None,
    power: Power | None = None,
    position: Position | None = "a",
    load: Load = "instrument",
    harmonic_db: float = -105.0,
    repeat_db: float = 0.0,
    delay_s: float = 0.0,
    sign: int = 1,
) -> RunSeen:
    """One run through source, lead and load, with R and C across the line."""
    source = OUTPUT + (RESISTOR if (really or feed) == "resistor" else 0.0)
    h = 1 / (1 + source * (1 / load_ohm + shunt_s + W * (NODE_F + shunt_f)))
    h = sign * h * 10 ** (gain_db / 20) * np.exp(-W * delay_s)
    label = RunLabel(
        path,
        feed,
        power=power if path == "pedal" else None,
        position=position if path == "pedal" else None,
        resistor_ohm=RESISTOR if feed == "resistor" else None,
        load=load,
    )
    var = np.full(len(F_HZ), 1e-12)
    harmonics = np.full((2, len(F_HZ)), 10 ** (harmonic_db / 20))
    take = TakeReading(
        run_id, "", 1, 0, 0.0, F_HZ, h, h, var, delay_s, harmonics, None, (), (), F_HZ, var, 0.2
    )
    response = RunResponse(run_id, F_HZ, h, var, delay_s, repeat_db, 2)
    return RunSeen(Run(run_id, label), (take,), response, None)


def codes(found) -> list[tuple[str, str, str]]:
    """Code, grade and place."""
    return [(f.code, f.grade, f.where) for f in found]


REFERENCE = run("01", "coupler", "resistor")
PLAIN = run("05", "coupler", "plain")


def test_clean_examination_is_clean() -> None:
    """A wired pedal with 12 pF, before and after, with both leads: nothing is said."""
    seen = [
        REFERENCE,
        run("02", "pedal", "resistor", power="on", shunt_f=12e-12),
        run("03", "pedal", "resistor", power="off", shunt_f=12e-12),
        run("04", "coupler", "resistor", gain_db=0.005),
        PLAIN,
        run("06", "pedal", "plain", power="on", shunt_f=12e-12),
        run("07", "coupler", "plain", gain_db=-0.004),
    ]
    assert judge_runs([item.run for item in seen], seen) == ()


def test_references_are_those_of_the_same_feed_and_load() -> None:
    """A plain run has plain references, a run into a line input those into it."""
    line = run("06", "coupler", "resistor", load="line")
    pedal = run("07", "pedal", "resistor", power="on")
    every = (REFERENCE, PLAIN, line, pedal)
    assert references_of(pedal, every) == (REFERENCE,)
    into_line = run("08", "pedal", "resistor", power="on", load="line")
    assert references_of(into_line, every) == (line,)
    found = judge_references_present([s.run for s in (*every, into_line)], (PLAIN, pedal))
    assert codes(found) == [("reference_missing", "refuse", "07 08")]


@pytest.mark.parametrize(
    ("load_ohm", "grade"), [(1e6, None), (250e3, None), (80e3, "look"), (12e3, "refuse")]
)
def test_input_resistance_from_two_references(load_ohm: float, grade: str | None) -> None:
    """Within 2 % of the true one, and graded: instrument inputs pass, a line input is refused."""
    resistor = run("01", "coupler", "resistor", load_ohm=load_ohm)
    plain = run("05", "coupler", "plain", load_ohm=load_ohm)
    found = input_resistance_ohm(resistor.response, plain.response, RESISTOR)
    assert found == pytest.approx(load_ohm, rel=0.02)
    expected = [("line_input", grade, "01")] if grade else []
    assert codes(judge_feeds([resistor, plain])) == expected


def test_line_input_that_is_wanted_is_not_refused() -> None:
    """A run that is labelled as into a line input may have one."""
    pair = [run(i, "coupler", f, load_ohm=12e3, load="line") for i, f in
            (("01", "resistor"), ("05", "plain"))]  # fmt: skip
    assert judge_feeds(pair) == ()


def test_resistor_forgotten_or_left_in_between_references() -> None:
    """A flat resistor run had no resistor; a plain run that falls like it had one."""
    forgotten = run("01", "coupler", "resistor", really="plain")
    assert codes(judge_feeds([forgotten, PLAIN])) == [("resistor_forgotten", "refuse", "01")]
    left = run("05", "coupler", "plain", really="resistor")
    assert codes(judge_feeds([REFERENCE, left])) == [("resistor_left_in", "refuse", "05")]


def test_wrong_lead_in_a_pedal_run() -> None:
    """Two runs of one state that are the same: the fall of the treble says which label lies."""
    plain = run("06", "pedal", "plain", power="on")
    forgotten = run("02", "pedal", "resistor", power="on", really="plain")
    seen = [REFERENCE, forgotten, PLAIN, plain]
    assert codes(judge_pedal_feeds(seen)) == [("resistor_forgotten", "refuse", "02")]
    resistor = run("02", "pedal", "resistor", power="on", shunt_f=1e-11)
    left = run("06", "pedal", "plain", power="on", really="resistor", shunt_f=1e-11)
    seen = [REFERENCE, resistor, PLAIN, left]
    assert codes(judge_pedal_feeds(seen)) == [("resistor_left_in", "refuse", "06")]


def test_good_buffer_is_no_forgotten_resistor() -> None:
    """A buffer of 10 MΩ is flat through the resistor, and still 0.09 dB away from the plain run."""
    buffered = run("02", "pedal", "resistor", power="on")
    through = 1 / (1 + (OUTPUT + RESISTOR) * (1e-7 + W * 10e-12))
    buffered = replace(buffered, response=replace(buffered.response, h=through))
    plain = run("06", "pedal", "plain", power="on")
    plain = replace(plain, response=replace(plain.response, h=1 / (1 + OUTPUT * 1e-7 + 0j * W)))
    assert judge_pedal_feeds([REFERENCE, buffered, PLAIN, plain]) == ()


@pytest.mark.parametrize("change_f", [-8e-12, -1e-12, 0.5e-12, 3e-12, 20e-12])
@pytest.mark.parametrize("gain_db", [0.0, 0.01])
def test_change_of_the_setup_capacitance(change_f: float, gain_db: float) -> None:
    """From two references, within 5 % and 0.02 pF, whatever the gain did meanwhile."""
    later = run("04", "coupler", "resistor", shunt_f=change_f, gain_db=gain_db)
    found = capacitance_change_f(REFERENCE.response, later.response, PLAIN.response, RESISTOR)
    assert found == pytest.approx(change_f, rel=0.05, abs=0.02e-12)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"gain_db": 0.01}, []),
        ({"gain_db": 0.05}, [("gain_moved", "look", "04")]),
        ({"gain_db": -0.4}, [("gain_moved", "refuse", "02 03")]),
        ({"shunt_f": 1e-12}, []),
        ({"shunt_f": -2.5e-12}, [("setup_moved", "look", "04")]),
        ({"shunt_f": 9e-12}, [("setup_moved", "refuse", "02 03")]),
        ({"shunt_s": 1e-6}, [("setup_moved", "refuse", "02 03")]),
    ],
)
def test_closing_reference_against_the_opening_one(
    changes: dict[str, float], expected: list[tuple[str, str, str]]
) -> None:
    """Gain and capacitance are told apart, and a refusal names the pedal runs in between."""
    seen = [
        REFERENCE,
        run("02", "pedal", "resistor", power="on"),
        run("03", "pedal", "resistor", power="off"),
        run("04", "coupler", "resistor", **changes),
        PLAIN,
    ]
    assert codes(judge_references(seen)) == expected


def test_exchanged_without_power_is_refused_and_with_power_looked_at() -> None:
    """Less capacitance than the coupler: nothing passive has it."""
    loaded = run("01", "coupler", "resistor", shunt_f=20e-12, shunt_s=1e-6)
    off = run("02", "pedal", "resistor", power="off")
    assert codes(judge_exchanged([loaded, off])) == [("exchanged", "refuse", "02 01")]
    on = run("02", "pedal", "resistor", power="on")
    assert codes(judge_exchanged([loaded, on])) == [("exchanged", "look", "02")]


def test_buffers_and_passive_pedals_are_not_exchanged() -> None:
    """A buffer lifts by the whole lead, a powered stage has harmonics, a load only lowers."""
    for pedal in (
        run("02", "pedal", "resistor", power="on", shunt_f=-390e-12),
        run("02", "pedal", "resistor", power="on", shunt_f=-100e-12, harmonic_db=-70.0),
        run("02", "pedal", "resistor", power="off", shunt_f=20e-12, shunt_s=1e-6),
        run("02", "pedal", "resistor", power="off", shunt_f=1e-12, gain_db=0.01),
    ):
        assert judge_exchanged([REFERENCE, pedal]) == ()


def test_level_offset_needs_an_explanation() -> None:
    """Flat and lower is looked at; flat and higher without power was a knob."""
    lower = run("06", "pedal", "plain", power="on", gain_db=-0.3)
    assert codes(judge_level_offset([PLAIN, lower])) == [("level_offset", "look", "06")]
    lifted = run("06", "pedal", "plain", power="off", gain_db=0.3)
    assert codes(judge_level_offset([PLAIN, lifted])) == [("gain_moved", "refuse", "06")]
    powered = replace(lower, takes=run("06", "pedal", "plain", harmonic_db=-60.0).takes)
    assert codes(judge_level_offset([PLAIN, powered])) == [("level_offset", "good", "06")]
    loading = run("02", "pedal", "resistor", power="on", shunt_s=1e-4)
    heavy = [PLAIN, lower, REFERENCE, loading]
    assert codes(judge_level_offset(heavy)) == [("level_offset", "good", "06")]
    within = run("06", "pedal", "plain", power="on", gain_db=-0.03)
    assert judge_level_offset([PLAIN, within]) == ()


@pytest.mark.parametrize(("repeat_db", "grade"), [(0.004, None), (0.02, "look"), (0.5, "refuse")])
def test_repeats(repeat_db: float, grade: str | None) -> None:
    """Takes of one run within 0.005 dB are good, beyond 0.3 dB no measurement."""
    seen = [REFERENCE, run("02", "pedal", "resistor", power="on", repeat_db=repeat_db)]
    assert codes(judge_repeats(seen)) == ([("unsteady", grade, "02")] if grade else [])


def test_takes_that_are_not_one_hookup() -> None:
    """One that passes beside one that does not refuses the run; two dead ones are a result."""
    (live,) = REFERENCE.takes
    dead = replace(live, up=1e-4 * live.up, down=1e-4 * live.down, number=2)
    (finding,) = judge_contact([live, dead])
    assert (finding.code, finding.where) == ("intermittent", "01")
    assert "80 dB below" in finding.number
    noisy = replace(dead, up=20 * dead.up, down=20 * dead.down)
    assert judge_contact([dead, noisy]) == ()
    assert judge_contact([live, live]) == ()
    assert judge_contact([]) == ()


def test_effect_is_named_and_asks_for_a_bypass_only_where_there_is_none() -> None:
    """Distortion or a lift is an effect; with one clean run beside it all is well."""
    effect = run("02", "pedal", "resistor", power="on", harmonic_db=-25.0, gain_db=8.0)
    assert harmonic_level_db(effect) == pytest.approx(-25.0)
    clean = run("03", "pedal", "resistor", power="on", position="b")
    assert codes(judge_effect([REFERENCE, effect, clean])) == [("effect_on", "good", "02")]
    found = judge_effect([REFERENCE, effect])
    assert codes(found) == [("effect_on", "good", "02"), ("no_bypass_run", "look", "02")]
    assert "harmonics at -25 dB, 8.0 dB louder" in found[0].number
    buffer = run("02", "pedal", "resistor", power="on", harmonic_db=-60.0)
    assert judge_effect([REFERENCE, buffer]) == ()


def test_equal_to_the_reference_in_every_run() -> None:
    """Only when every resistor run equals it; one pF in one run is enough of a pedal."""
    same = run("02", "pedal", "resistor", power="on", gain_db=0.001)
    assert codes(judge_equal([REFERENCE, same])) == [("equals_reference", "look", "02")]
    other = run("03", "pedal", "resistor", power="off", shunt_f=1e-12)
    assert judge_equal([REFERENCE, same, other]) == ()
    assert judge_equal([PLAIN, run("06", "pedal", "plain", power="on")]) == ()


@pytest.mark.parametrize("delay_s", [0.0, 20e-6, 1.5e-3])
def test_polarity_whatever_the_delay(delay_s: float) -> None:
    """A pedal upside down is looked at; a reference upside down refuses both."""
    turned = run("02", "pedal", "resistor", power="on", sign=-1, delay_s=delay_s)
    assert codes(judge_polarity([REFERENCE, turned])) == [("polarity", "look", "02")]
    straight = run("02", "pedal", "resistor", power="on", delay_s=delay_s, shunt_s=1e-4)
    assert judge_polarity([REFERENCE, straight]) == ()
    closing = run("04", "coupler", "resistor", sign=-1, delay_s=delay_s)
    assert codes(judge_polarity([REFERENCE, closing])) == [("polarity", "refuse", "01 04")]


def test_passing_is_judged_against_the_reference() -> None:
    """Through the resistor a 100 kΩ load passes; 60 dB down does not, with or without reference."""
    loaded = run("02", "pedal", "resistor", power="on", shunt_s=1e-5)
    dead = run("03", "pedal", "resistor", power="off", gain_db=-60.0)
    assert passes(loaded, [REFERENCE])
    assert passes(loaded, [])
    assert not passes(dead, [REFERENCE])
    assert not passes(dead, [])


def test_same_bytes_in_two_runs() -> None:
    """The hash tells it, and both runs are named; two takes of one run are another matter."""

    def recording(sha256: str, origin: str) -> Recording:
        return Recording("recordings/x.wav", sha256, 48_000, 1, 1, "sweep", "", origin=origin)

    label = RunLabel("coupler", "plain")
    one = Run("01", label, (recording("aa", "ref.wav"),))
    two = Run("02", label, (recording("aa", "pedal.wav"), recording("bb", "")))
    (finding,) = judge_same_file([one, two])
    assert finding.number == "ref.wav and pedal.wav are the same bytes"
    assert finding.where == "01 02"
    assert judge_same_file([one, Run("03", label, (recording("cc", ""),))]) == ()


@pytest.mark.parametrize(
    ("over_db", "level_dbfs", "grade"),
    [(10.0, -90.0, None), (25.0, -80.0, "look"), (45.0, -75.0, "look"), (45.0, -40.0, "refuse")],
)
def test_mains_counts_by_height_and_by_nearness_to_the_sweep(
    over_db: float, level_dbfs: float, grade: str | None
) -> None:
    """20 dB over the noise is looked at; refused is only what also comes near to the sweep."""
    level = Estimate(level_dbfs, 0.1, "dB")
    item = replace(REFERENCE, noise=NoiseFigures(level, level, 50.0, over_db))
    assert codes(judge_mains([item])) == ([("hum", grade, "01")] if grade else [])
    assert judge_mains([REFERENCE]) == ()
