"""File names and labels: each label has a name, and the name says the label."""

from __future__ import annotations

import random
import re

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.errors import ArgumentError
from loopback.plan.naming import NamedRecording, label_from_name, name_from_label, read_name
from loopback.plan.plans import PLANS, TableFacts, label_for
from loopback.plan.runs import RunLabel

NAMED = {
    "pedal-on-a-resistor.wav": RunLabel("pedal", "resistor", "on", "a"),
    "pedal-off-b-plain": RunLabel("pedal", "plain", "off", "b"),
    "coupler-resistor.WAV": RunLabel("coupler", "resistor"),
    "Coupler Plain.flac": RunLabel("coupler", "plain"),
    "reference_plain.aiff": RunLabel("coupler", "plain"),
    "resistor_a_on_pedal.wav": RunLabel("pedal", "resistor", "on", "a"),
    "unplugged.wav": RunLabel("unplugged", "plain"),
    "pedal-on-noswitch-plain.wav": RunLabel("pedal", "plain", "on", "none"),
    "some folder/coupler-plain.wav": RunLabel("coupler", "plain"),
    "coupler-resistor-99.6k-0.5%.wav": RunLabel(
        "coupler", "resistor", resistor_ohm=99_600.0, resistor_tolerance=0.005
    ),
    "0.1M-resistor-coupler.wav": RunLabel("coupler", "resistor", resistor_ohm=1e5),
    "coupler-resistor-47ohm": RunLabel("coupler", "resistor", resistor_ohm=47.0),
    "coupler-resistor-100kΩ": RunLabel("coupler", "resistor", resistor_ohm=1e5),
    "coupler-resistor-100k-plug-1k": RunLabel(
        "coupler", "resistor", resistor_ohm=1e5, load="plug", load_ohm=1e3
    ),
    "pedal-on-b-plain-line-reversed-dark-mating2-lower20": RunLabel(
        "pedal",
        "plain",
        "on",
        "b",
        "dark",
        load="line",
        direction="reversed",
        mating=2,
        level_db=-20,
    ),
    "coupler-resistor-interface": RunLabel("coupler", "resistor", resistor_end="interface"),
    "pedal--on__a - plain.wav": RunLabel("pedal", "plain", "on", "a"),
    "pedal-on-on-a-plain": RunLabel("pedal", "plain", "on", "a"),
}


@pytest.mark.parametrize("name", NAMED)
def test_names_say_what_was_connected(name: str) -> None:
    """Whatever the order, case, joining letter and ending."""
    assert label_from_name(name) == NAMED[name]


@pytest.mark.parametrize(
    ("name", "number", "take", "silence"),
    [
        ("coupler-plain.wav", 1, 1, False),
        ("coupler-plain-2.wav", 2, 1, False),
        ("coupler-plain-02-take3.wav", 2, 3, False),
        ("silence-coupler-plain.wav", 1, 1, True),
    ],
)
def test_names_say_which_recording_it_is(name: str, number: int, take: int, silence: bool) -> None:
    """Second run of a hook-up, third take, long silence."""
    expected = NamedRecording(RunLabel("coupler", "plain"), number, take, silence)
    assert read_name(name) == expected


REFUSED = {
    "": ["missing: the path", "the feed"],
    ".wav": ["missing: the path"],
    "take7.wav": ["missing: the path", "the feed"],
    "pedal.wav": ["the power", "the switch", "the feed"],
    "pedal-on-a": ["missing: the feed"],
    "coupler": ["missing: the feed"],
    "pedal-on-off-a-plain": ['"off" contradicts'],
    "pedal-coupler-on-a-plain": ['"coupler" contradicts'],
    "coupler-plain-resistor": ['"resistor" contradicts'],
    "coupler-on-plain": ["power 'on' with the path coupler"],
    "coupler-a-plain-lit": ["position 'a'", "lamp 'lit'"],
    "unplugged-reversed": ["direction 'reversed'"],
    "peddal-on-a-plain": ['"peddal" is not understood', "missing: the path"],
    "pedal-on-a-plain-100k": ["100000 ohm stands behind neither"],
    "coupler-resistor-100k-47k": [
        "47000 ohm stands behind neither resistor nor plug, or is a second"
    ],
    "coupler-plain-1%": ["resistor tolerance with the plain feed"],
    "coupler-plain-interface": ["resistor end with the plain feed"],
    "coupler-resistor-1,5k": ['"1,5k" has a comma, write a point'],
    "coupler-plain-2-3": ['"3" contradicts'],
    "coupler-plain-mating1-mating2": ['"mating2" contradicts'],
    "coupler-plain-lower2.3.4": ['"lower2.3.4" is not understood'],
    "coupler-resistor--100k-plug-1k-2k": ["2000 ohm"],
    "100k-coupler-resistor-plug": ["100000 ohm stands behind neither"],
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_missing_or_contradictory_is_listed(name: str) -> None:
    """Everything at once, and how to name it instead."""
    with pytest.raises(ArgumentError, match="does not say what was recorded") as caught:
        label_from_name(name)
    for words in REFUSED[name]:
        assert words in caught.value.found
    assert "pedal-on-a-resistor.wav" in caught.value.action


values = st.floats(0.01, 1e9) | st.sampled_from([1e5, 99_600.0, 47.0, 1e6, 1e3, 150.0])


@st.composite
def labels(draw: st.DrawFn) -> RunLabel:
    """Any label whose fields fit together; notes are no part of a name."""
    path = draw(st.sampled_from(["coupler", "pedal", "unplugged"]))
    feed = draw(st.sampled_from(["plain", "resistor"]))
    load = draw(st.sampled_from(["instrument", "line", "plug"]))
    fields: dict[str, object] = {"path": path, "feed": feed, "load": load}
    if path == "pedal":
        fields["power"] = draw(st.sampled_from(["on", "off"]))
        fields["position"] = draw(st.sampled_from(["a", "b", "none"]))
        fields["lamp"] = draw(st.sampled_from([None, "lit", "dark", "none"]))
        fields["direction"] = draw(st.sampled_from(["forward", "reversed"]))
    if feed == "resistor":
        fields["resistor_ohm"] = draw(st.none() | values)
        percent = draw(st.none() | st.integers(0, 9_999))
        fields["resistor_tolerance"] = None if percent is None else percent * 0.01 * 0.01
        fields["resistor_end"] = draw(st.sampled_from(["pedal", "interface"]))
    if load == "plug":
        fields["load_ohm"] = draw(st.none() | values)
    fields["mating"] = draw(st.integers(0, 20))
    fields["level_db"] = -draw(st.sampled_from([0.0, 10.0, 20.0, 0.5]))
    return msgspec.convert(fields, RunLabel)


def without_tolerance(label: RunLabel) -> RunLabel:
    """The label without the one field that passes through per cent."""
    return msgspec.structs.replace(label, resistor_tolerance=None)


@given(label=labels(), seed=st.integers(0, 1000))
def test_a_label_comes_back_from_its_name(label: RunLabel, seed: int) -> None:
    """To the last bit of a resistance, in capitals and with other joining letters too; words that
    carry no value of their own may change places."""
    name = name_from_label(label)
    assert re.fullmatch(r"[A-Za-z0-9.%-]+", name)
    for shown in (name, f"{name}.wav", name.replace("-", "_"), name.replace("-", " ")):
        again = label_from_name(shown)
        assert without_tolerance(again) == without_tolerance(label)
        if label.resistor_tolerance is None:
            assert again.resistor_tolerance is None
        else:
            assert again.resistor_tolerance == pytest.approx(label.resistor_tolerance, abs=1e-14)
    head, _, _ = re.split(r"-(resistor|plug)", f"{name}-plug", maxsplit=1)
    words = head.split("-")
    random.Random(seed).shuffle(words)
    assert without_tolerance(
        label_from_name("-".join([*words, name.removeprefix(head)]))
    ) == without_tolerance(label)


def test_every_step_of_every_plan_has_a_name() -> None:
    """The names that a guide would give to files can be read back."""
    facts = TableFacts("b", "dark", 99_600.0, 0.005)
    for plan in PLANS.values():
        for step in plan.steps:
            label = label_for(step, facts)
            assert label_from_name(f"{name_from_label(label)}-2.wav") == label


@given(name=st.text(max_size=60))
def test_any_text_is_read_or_refused(name: str) -> None:
    """An ArgumentError, and nothing else."""
    try:
        read_name(name)
    except ArgumentError as error:
        message = error.found
    else:
        return
    assert message


WORDS = ["pedal", "on", "a", "plain", "resistor", "100k", "1%", "plug", "take2", "2", "x", "lower5"]


@given(words=st.lists(st.sampled_from(WORDS), max_size=8))
def test_any_order_of_known_words_is_read_or_refused(words: list[str]) -> None:
    """What is read has a path, and a pedal always has power and position."""
    try:
        label = label_from_name("-".join(words))
    except ArgumentError as error:
        message = error.found
    else:
        assert label.path == "pedal"
        assert (label.power, label.position) == ("on", "a")
        assert "x" not in words
        return
    assert message
