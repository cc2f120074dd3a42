"""The package from a notebook: what a cell shows, arrays with units, figures, two compared."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import numpy as np
import pytest

import loopback
from loopback.facts import Analysis
from loopback.quantity import coverage_factor
from loopback.response.band import level_db
from tests.reference.command_line import ROOT, environment
from tests.reference.invented_analysis import analysis as invented

HOSTILE = '<img src=x onerror="alert(1)">\n\u202eevil\u2066 \x1b[31m' + "very long " * 40


@pytest.fixture(scope="module")
def lamp(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """A quick examination of the pedal with a pulldown."""
    place = tmp_path_factory.mktemp("notebook") / "lamp"
    exam = loopback.simulate_examination(place, "quarry-lamp", plan="quick", sweep_s=1.0)
    assert loopback.open_examination(str(place)).document == exam.document
    return loopback.analyse(str(place))


class _Elements(HTMLParser):
    """Collects every element and everything that is text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: set[str] = set()
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_analysis_shows_its_lines_and_not_its_arrays(lamp: Analysis) -> None:
    """One line in an interpreter, a small table in a notebook."""
    assert repr(lamp).startswith("<Analysis of 5 runs: Quarry Lamp: passive, loaded, 1000 kΩ ±")
    assert "\n" not in repr(lamp)
    shown = _Elements(lamp._repr_html_())
    assert shown.elements == {"table", "caption", "bdi", "tbody", "tr", "th", "td"}
    assert "Passive, not true bypass by the strict rule" in shown.text
    assert "tip to sleeve" in shown.text


def test_hostile_name_breaks_nothing() -> None:
    """Markup, line breaks, turned writing, escapes and great length stay a short piece of text."""
    analysis = invented(name=HOSTILE)
    shown = _Elements(analysis._repr_html_())
    assert "img" not in shown.elements
    assert "<img" in shown.text
    for text in (repr(analysis), analysis._repr_html_()):
        assert not set(text) & set("\n\r\x1b\u202e\u2066")
        assert len(text) < 2500


def test_examination_shows_its_name_escaped(tmp_path: Path) -> None:
    """A name with a line break and turned writing is shown as Python writes it."""
    name = "Lamp\n\u202ename"
    exam = loopback.simulate_examination(tmp_path / "x", "quarry-lamp", name=name, plan="quick",
                                         sweep_s=1.0)  # fmt: skip
    assert exam.document.pedal.name == name
    assert repr(exam).endswith("of 'Lamp\\n\\u202ename': 5 runs, 12 recordings>")


def test_curves_are_those_of_the_runs(lamp: Analysis) -> None:
    """Level and phase are those of the ratio, with the interval of noise, repeats and gain."""
    for facts, level, phase in zip(
        lamp.pedal_runs,
        loopback.curves(lamp),
        loopback.curves(lamp, "phase"),
        strict=True,
    ):
        ratio = facts.ratio
        assert ratio is not None
        assert (level.unit, phase.unit) == ("dB", "degree")
        np.testing.assert_allclose(level.value, 20 * np.log10(np.abs(ratio.t)), atol=1e-9)
        np.testing.assert_allclose(
            np.exp(1j * np.radians(phase.value)), ratio.t / np.abs(ratio.t), atol=1e-9
        )
        assert level.half_width is not None
        assert phase.half_width is None
        _, u_db = level_db(ratio)
        expected = coverage_factor() * np.sqrt(u_db**2 + ratio.u_gain_db**2)
        np.testing.assert_allclose(level.half_width, expected)


def test_curves_are_chosen_by_what_was_done(lamp: Analysis) -> None:
    """Feed, power and bypass choose among the runs; noise has the references too."""
    runs = lamp.pedal_runs
    assert len(loopback.curves(lamp)) == len(runs) == 3
    assert [c.power for c in loopback.curves(lamp, power="off")] == ["off"]
    assert {c.position for c in loopback.curves(lamp, in_bypass=True)} == {
        lamp.result.bypass_position
    }
    assert loopback.curves(lamp, feed="plain") == ()
    noise = loopback.curves(lamp, "noise")
    assert len(noise) == len(runs) + len(lamp.references)
    assert {c.unit for c in noise} == {"dBFS/Hz"}
    # 24 bits and an ordinary interface: about -100 dBFS in all, some 40 dB less in one hertz
    middle = [float(np.interp(1e3, c.f_hz, c.value)) for c in noise if not c.power]
    assert all(-150 < level < -130 for level in middle)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda a: loopback.curves(a, "levels"), "insertion, phase, noise"),
        (lambda a: loopback.figure(a, "levels"), "zoom"),
        (lambda a: loopback.figure(a, theme="sepia"), "light and dark"),
        (lambda a: loopback.figure(a, size="poster"), "web and slide"),
        (lambda _: loopback.simulate_examination("x", "quarry-lamp", plan="all"), "standard"),
        (lambda _: loopback.simulate_examination("x", "quarry"), "Near to it: quarry-lamp"),
        (lambda _: loopback.open_examination("nowhere"), "Check the name"),
    ],
)
def test_slips_are_answered(
    lamp: Analysis, call: Callable[[Analysis], object], said: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """A word that is not known gets an error that names those that are; nothing is left behind."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(loopback.LoopbackError, match=said):
        call(lamp)
    assert list(tmp_path.iterdir()) == []


def test_figures_are_plain_figures(lamp: Analysis, tmp_path: Path) -> None:
    """Both themes and sizes are figures that can be saved at any resolution."""
    light, dark = loopback.figure(lamp), loopback.figure(lamp, "zoom", theme="dark", size="slide")
    assert light.get_facecolor() != dark.get_facecolor()
    assert dark.get_figwidth() / dark.get_figheight() == pytest.approx(16 / 9, rel=0.01)
    light.savefig(tmp_path / "a.png", dpi=50)
    assert (tmp_path / "a.png").stat().st_size > 5_000


def test_a_pedal_compared_with_itself_does_not_differ(lamp: Analysis) -> None:
    """The same examination twice: every difference is zero and none is told."""
    pair = loopback.compare(lamp, lamp)
    assert len(pair.differences) >= 4
    assert all(d.difference.value == 0 and not d.told for d in pair.differences)
    (sentence,) = loopback.pair_sentences(pair)
    assert sentence.startswith("No difference told")


def test_difference_is_second_less_first(lamp: Analysis) -> None:
    """A known change of the conductance comes back with its sign."""
    shunt = lamp.result.shunt
    assert shunt is not None
    more = replace(shunt.g_siemens, value=shunt.g_siemens.value + 5e-6)
    heavier = replace(lamp, result=replace(lamp.result, shunt=replace(shunt, g_siemens=more)))
    renamed = msgspec.structs.replace(
        lamp.examination, pedal=msgspec.structs.replace(lamp.examination.pedal, name="Other")
    )
    pair = loopback.compare(lamp, replace(heavier, examination=renamed))
    (g,) = [d for d in pair.differences if d.quantity == "g"]
    assert g.difference.value == pytest.approx(5e-6)
    assert g.told
    assert pair.second.name == "Other"


def test_example_script_runs_and_tells(tmp_path: Path) -> None:
    """The script for readers does all it says, from an empty folder, with the numbers it found."""
    done = subprocess.run(
        [sys.executable, "-W", "error", str(ROOT / "scripts" / "example_notebook.py")],
        cwd=tmp_path, env=environment(PYTHONIOENCODING="utf-8"), capture_output=True, text=True,
        encoding="utf-8", check=False, timeout=240,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "path in bypass: loaded; without power: bypass_position; size: ('light',)" in done.stdout
    assert "Quarry Lamp loads more" in done.stdout
    (apart,) = [line for line in done.stdout.splitlines() if "measurement are within" in line]
    assert float(apart.split()[-2]) < 0.005
    for name in ("quarry-lamp-insertion.png", "quarry-lamp-zoom.svg"):
        assert (tmp_path / "example" / name).stat().st_size > 10_000
