"""The report page of the five demo pedals: what stands in it, and that it stands by itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from loopback.cache.cached import cached_analysis
from loopback.cli.workshop import TABLE, Order, examine
from loopback.examination.folder import ExaminationFolder
from loopback.facts import Analysis
from loopback.quantity import parse_value
from loopback.report.document import facts_of
from loopback.report.fact_base import Number
from loopback.report.identification import identification
from loopback.report.records import Facts
from loopback.verdict.limits import WIRING_C
from loopback.verdict.sentences import consistent_line, evidence_lines, not_tested_line
from loopback.verdict.sentences_certainty import decision_rule
from tests.reference.page_reader import Page

NAMES = [order.name for order in TABLE]
SECTIONS = [
    *("result", "meter", "circuit", "evidence", "faults", "response", "noise", "harmonics"),
    *(
        "footswitch",
        "player",
        "power",
        "findings",
        "not-tested",
        "cautions",
        "item",
        "method",
        "runs",
    ),
    *("numbers", "recompute", "recordings", "about"),
]


class Reported:
    """One demo pedal with its page."""

    def __init__(self, order: Order, place: Path, seed: int) -> None:
        self.file = examine(order, place, seed, signs=True).report
        self.folder = self.file.parent.parent
        self.html = self.file.read_text(encoding="utf-8")
        self.page = Page(self.html)
        self.analysis: Analysis = cached_analysis(self.folder)
        self.facts: Facts = facts_of(self.analysis)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Reported]:
    """The demo's five pedals, examined and reported as the demo does it."""
    place = tmp_path_factory.mktemp("demo")
    return {order.name: Reported(order, place, n) for n, order in enumerate(TABLE, start=1)}


@pytest.fixture(params=NAMES)
def one(request: pytest.FixtureRequest, demo: dict[str, Reported]) -> Reported:
    """Each of them in turn."""
    return demo[request.param]


def test_page_is_well_formed_with_every_section(one: Reported) -> None:
    """Every element is closed, identifiers are unique, links lead somewhere, sections in order."""
    page = one.page
    assert page.faults == []
    ids = [e.attributes["id"] for e in page.elements if "id" in e.attributes]
    assert len(ids) == len(set(ids))
    assert [e.attributes["id"] for e in page.elements if e.tag == "section"] == SECTIONS
    pointed = [
        e.attributes[name].removeprefix("#")
        for e in page.elements
        for name in ("href", "xlink:href", "aria-labelledby")
        if name in e.attributes
    ]
    assert len(pointed) > 40
    assert set(pointed) <= set(ids)
    assert [e.text for e in page.elements if e.tag == "h1"] == [one.facts.pedal.name]


def test_page_needs_nothing_from_outside(one: Reported) -> None:
    """No script, no event, no address, nothing loaded; its own rule forbids it as well."""
    tags = {e.tag for e in one.page.elements}
    assert not tags & {"script", "iframe", "object", "embed", "link", "img", "form", "base"}
    for element in one.page.elements:
        for name, value in element.attributes.items():
            assert not name.startswith("on")
            if name in ("href", "xlink:href", "src"):
                assert value.startswith("#")
            assert "javascript:" not in value
            assert "http" not in value or name.startswith("xmlns") or name == "http-equiv"
    assert re.findall(r"url\((?!#)|@import|expression\(", one.html) == []
    policy = next(e for e in one.page.elements if "http-equiv" in e.attributes)
    assert policy.attributes["content"].startswith("default-src 'none'")


def test_page_has_light_dark_and_print(one: Reported) -> None:
    """The page and each picture have colours for dark, and light ones again for paper."""
    styles = one.page.styles
    pictures = [e for e in one.page.elements if e.tag == "svg" and "circuit" not in e.attributes]
    assert len(styles) >= 4
    assert pictures
    assert all("prefers-color-scheme: dark" in style for style in styles)
    assert all("@media print" in style for style in styles)
    assert "break-inside: avoid" in styles[0]


def test_pictures_can_be_heard_and_tables_have_heads(one: Reported) -> None:
    """Each picture has a name; each column and each line of a table says what it is."""
    for number, element in enumerate(one.page.elements):
        if element.tag == "svg":
            following = one.page.elements[number + 1]
            named = element.attributes.get("aria-label") or (
                following.text if following.tag == "title" else ""
            )
            assert element.attributes["role"] == "img"
            assert len(named) > 10
        if element.tag == "th":
            assert element.attributes["scope"] in ("col", "row")
    heads = [e for e in one.page.elements if e.tag == "th"]
    assert {e.attributes["scope"] for e in heads} == {"col", "row"}


def test_result_says_what_the_facts_say(one: Reported) -> None:
    """The three lines are the sentences of the facts, each with how sure it is."""
    result = one.page.section("result").text
    sentences = one.facts.result.sentences
    for sentence in sentences:
        assert sentence in result
    assert result.count("Path in bypass") == result.count("Without power") == 1
    assert "relate only to the unit described here" in result
    assert "Simulated: no real pedal was measured." in one.page.text


def test_evidence_table_equals_the_facts(one: Reported) -> None:
    """Interval, limit, probability and outcome of every limit, and where the limit comes from."""
    lines = one.page.table("Against the limits of wiring")[1:]
    facts = one.facts.result
    assert [line[-1] for line in lines] == [c.outcome for c in facts.conformity]
    if not lines:
        assert facts.path in ("buffered", "undecided")
        return
    series, across = facts.series_ohm, facts.across
    assert series is not None
    assert across is not None
    c = across.c_farad if facts.network is None else facts.network.c_farad
    _same_interval(lines[0][2], series, "Ω")
    _same_interval(lines[2][2], c, "F")
    low, high = across.g_siemens.low95, across.g_siemens.high95
    assert low is not None
    assert high is not None
    if low <= 0:
        # One-sided: 1.645 u above the value, where the interval of the facts reaches 1.96 u.
        g, u = across.g_siemens.value, across.g_siemens.u
        assert g is not None
        assert u is not None
        bound = float(parse_value(lines[1][2].removeprefix("over ").replace(" ", "")))
        exact = 1 / (max(g, 0.0) + 1.645 * u)
        assert 0.9 * exact < bound <= exact
    else:
        _same_interval(lines[1][2], Number(None, None, 1 / high, 1 / low), "Ω")
    for line, fact in zip(lines, facts.conformity, strict=True):
        assert fact.probability is not None
        said = line[4]
        if said.startswith(("over", "under")):
            assert (fact.probability > 0.999) == said.startswith("over")
        else:
            assert float(said.rstrip(" %")) == pytest.approx(100 * fact.probability, abs=0.5)
    assert "60 pF" in lines[2][3]
    assert WIRING_C.source.split(": ")[1] in one.page.section("evidence").text
    for sentence in (*evidence_lines(one.analysis.result), consistent_line(one.analysis.result)):
        assert sentence in one.page.section("evidence").text


def _same_interval(text: str, number: Number, unit: str) -> None:
    """Both ends as printed are those of the fact, to the last place printed."""
    values, written = text.rsplit(" ", 1)
    scale = parse_value(f"1{written.removesuffix(unit)}")
    for shown, exact in zip(values.split(" to "), (number.low95, number.high95), strict=True):
        assert exact is not None
        place = 10.0 ** -len(shown.partition(".")[2])
        size = max(1.0, 10.0 ** (len(shown.lstrip("-").partition(".")[0]) - 1)) if place == 1 else 1
        assert float(shown) * scale == pytest.approx(exact, abs=0.51 * place * size * scale)


def test_level_noise_and_harmonics_are_drawn_and_told(one: Reported) -> None:
    """The pictures stand in their sections, and levels beside them come from the runs."""
    ids = {e.attributes.get("id"): e for e in one.page.elements}
    for name in ("insertion", "zoom", "noise", "harmonics"):
        assert f"picture-{name}" in ids
    told = one.page.table("Level and treble in bypass")
    runs = {run.id: run for run in one.facts.pedal_runs}
    listed = one.page.table("* marks those in bypass")[1:]
    assert [line[0][:2] for line in listed] == [
        *(run.id for run in one.facts.references),
        *(run.id for run in one.facts.pedal_runs),
    ]
    assert len(told) == (2 if one.facts.setup.resistor_ohm is None else 3)
    for line in listed:
        run = runs.get(line[0][:2])
        if run is not None and run.level_db is not None and line[2].startswith(("+", "-")):
            assert float(line[2].split()[0]) == pytest.approx(run.level_db.value, abs=0.0051)


def test_power_table_says_what_each_state_does(one: Reported) -> None:
    """For each state the class of the run it names, as in the facts."""
    lines = one.page.table("What passes")[1:]
    runs = {run.id: run for run in one.facts.pedal_runs}
    words = {"passes": "passes", "open": "silent", "short": "silent, held"}
    words["altered"] = "passes, altered"
    told = 0
    for line in lines:
        for cell, power in zip(line[1:], ("on", "off"), strict=True):
            if cell == "not tested":
                continue
            run = runs[re.search(r"run (\d\d)", cell)[1]]
            assert run.state is not None
            assert cell.startswith(words[run.state])
            assert run.label.power == power
            told += 1
    assert told >= 3
    bypass = [line[0] for line in lines if "(bypass)" in line[0]]
    assert bypass == ["as found (bypass)"]


def test_player_section_equals_the_facts(one: Reported) -> None:
    """The largest change for each pickup; nothing is invented where the load is not known."""
    text = one.page.section("player").text
    if not one.facts.player:
        assert "Not computed" in text
        return
    for fact in one.facts.player:
        assert fact.most_db.value is not None
        assert f"{fact.most_db.value:+.2f} dB" in text
        if fact.most_at_hz is not None:
            assert (
                f"at {fact.most_hz / 1e3:.1f}" in text or f"at {fact.most_hz / 1e3:.2f} kHz" in text
            )
        else:
            assert "up to 10 kHz, still growing there" in text


def test_method_and_what_was_not_tested_are_stated(one: Reported) -> None:
    """The contents of a test report: item, dates, method, conditions, rule, scope, end."""
    text, examination = one.page.text, one.analysis.examination
    assert identification(examination) in text
    assert decision_rule() in text
    assert not_tested_line(one.analysis.result) in one.page.section("not-tested").text
    assert "One unit, one day." in text
    for word in ("Hearing", "Loudspeakers", "Loudspeaker outputs", "Phantom power", "Mains"):
        assert word in one.page.section("cautions").text
    assert "licensed" in one.page.section("cautions").text
    assert "synchronised exponential sweep from 10 Hz to" in one.page.section("method").text
    assert "covers 95 % (JCGM 100:2008" in text
    assert "not the report of an accredited laboratory" in one.page.section("about").text
    assert one.page.section("about").text.endswith(f"End of report {identification(examination)}.")
    assert "loopback verify FOLDER" in one.page.section("recompute").text
    assert "Nobody pressed" in one.page.section("footswitch").text


def test_every_recording_is_listed_with_its_hash(one: Reported) -> None:
    """File and SHA-256 of every recording of the folder."""
    lines = one.page.table("Every file")[1:]
    document = ExaminationFolder.open(one.folder).document
    assert [(line[0], line[3]) for line in lines] == [
        (r.file, r.sha256) for r in document.recordings()
    ]


def test_five_pedals_have_five_drawings(demo: dict[str, Reported]) -> None:
    """Wire, pulldown, network behind a capacitor, stage, and the one of which none is drawn."""
    drawn = {
        name: [e.text for e in one.page.elements if e.tag == "text" and _in_circuit(one.page, e)]
        for name, one in demo.items()
    }
    across = demo["Quarry Lamp"].facts.result.across
    assert across is not None
    assert len(drawn["Harbour Bell"]) == 4
    assert any(text.startswith("99") and "kΩ ±" in text for text in drawn["Quarry Lamp"])
    assert any("nF ±" in text for text in drawn["Tidal Clock"])
    assert "powered stage" in drawn["Salt Lantern"]
    assert drawn["Drift Bottle"] == []
    assert "No circuit is drawn" in demo["Drift Bottle"].page.section("circuit").text


def _in_circuit(page: Page, wanted: object) -> bool:
    svg = None
    for element in page.elements:
        if element.tag == "svg":
            svg = element
        if element is wanted:
            return svg is not None and svg.attributes.get("class") == "circuit"
    return False
