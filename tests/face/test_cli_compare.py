"""`compare` as a user calls it: tables, differences, repeats, repairs, pages; any name."""

from __future__ import annotations

import html.parser
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loopback.cache.cached import cached_analysis, cached_summary
from loopback.comparing.comparison import Comparison, Given, LeftOut, Order, comparison_of
from loopback.comparing.sentences import pair_sentences, precision_sentence
from loopback.comparing.summarise import summary_of
from loopback.comparing.summary import Summary
from loopback.examination.records import Pedal
from loopback.facts import Analysis
from loopback.identify.found import Shunt
from loopback.quantity import Estimate
from loopback.report.compare_document import comparison_json
from loopback.report.compare_lines import comparison_screen
from loopback.report.compare_page import comparison_page
from loopback.report.compare_records import ComparisonFacts
from loopback.report.document import facts_json
from loopback.report.set_table import columns_of
from loopback.report.text import result_screen
from tests.reference.command_line import environment, here
from tests.reference.invented_analysis import LONG_NAME, analysis, pulldown_result
from tests.reference.kept_folders import keep, stored_folder

HEAVY = (
    "scipy", "soundfile", "sounddevice", "matplotlib", "jinja2", "loopback.analysis",
    "loopback.facts", "loopback.identify.identify", "loopback.cache.packed",
)  # fmt: skip


def invented(name: str = "Quarry Lamp", c: float = 19.2e-12, **about: str) -> Analysis:
    """A pedal with that capacitance, of which resistor and coupler are common causes."""
    common = (("resistor", 0.0058 * c), ("coupler, instrument", 0.3e-12))
    shunt = Shunt(
        Estimate(c, 0.45e-12, "farad", common=common),
        Estimate(1e-6, 6.7e-9, "siemens", common=(("resistor", 5.8e-9),)),
        0.001, 1e5, 412e-12,
    )  # fmt: skip
    return analysis(name, replace(pulldown_result(), shunt=shunt), **about)


def summary(
    name: str = "Quarry Lamp", c: float = 19.2e-12, place: int = 1, **about: str
) -> Summary:
    """Its summary, of recordings of its own."""
    found = summary_of(invented(name, c, **about))
    return msgspec.structs.replace(
        found,
        recordings=f"{place:064x}",
        leads=msgspec.structs.replace(found.leads, references=(f"{place:064x}",)),
        created=f"2026-11-{place:02d}T10:00:00+00:00",
    )


def compared(*summaries: Summary, order: Order = "load") -> Comparison:
    """Compare summaries that lie in folders of their own."""
    given = [Given(Path(f"/shelf/{i}"), s) for i, s in enumerate(summaries, 1)]
    return comparison_of(given, order=order)


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three examinations with their results kept, one folder without any, and one damaged."""
    for name, c in (("amber", 12e-12), ("basalt", 18e-12), ("chalk", 60e-12)):
        path = tmp_path / name
        stored = stored_folder(path, name.title())
        keep(path, replace(stored, result=invented(c=c).result), monkeypatch)
    (tmp_path / "empty").mkdir()
    (tmp_path / "torn").mkdir()
    (tmp_path / "torn" / "examination.json").write_text('{"format": "loop', encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    def again(_: Path) -> Analysis:
        raise AssertionError("analysed although it was kept")

    monkeypatch.setattr("loopback.analysis.analyse", again)
    return tmp_path


def test_screen_of_three(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every examination has its line, differences have intervals, and 80 columns suffice."""
    called = here(["compare", "amber", "basalt", "chalk"], capsys)
    assert (called.status, called.err) == (0, "")
    assert max(map(len, called.out.splitlines())) <= 80
    assert re.search(r"1  Amber +passive, loaded +12\.0 pF ± 0\.9", called.out)
    assert "Basalt adds 6.0 pF ± 0.9 more than Amber." in called.out
    assert "Taken as one setup" in called.out
    first, second = called.out.split("\n\n")[1:3]
    assert first.splitlines()[0].split() == ["pedal", "bypass", "capacitance", "resistance"]
    assert second.splitlines()[0].split()[:4] == ["load", "in", "to", "out"]
    assert re.search(r"^Measured +(All on \d|\d+ \w+ \d{4}: 1)", called.out, re.MULTILINE)


def test_common_doubt_is_taken_off_only_on_one_setup(
    shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Taken as several setups the same difference has a wider interval."""
    called = here(["compare", "amber", "basalt", "--setups", "several"], capsys)
    assert "Basalt adds 6.0 pF ± 1.2 more than Amber." in called.out
    assert "every doubt is taken as independent" in " ".join(called.out.split())


def test_folders_without_result_are_listed_and_stop_nothing(
    shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty folder, a damaged document and a missing folder each have their reason."""
    called = here(["compare", "amber", "empty", "torn", "nowhere", "basalt"], capsys)
    assert called.status == 0
    assert "2 EXAMINATIONS" in called.out
    flat = " ".join(called.out.split())
    for name, why in (("empty", "holds no examination.json"), ("torn", "examination.json"),
                      ("nowhere", "holds no examination.json")):  # fmt: skip
        assert re.search(rf"{name}: .*{re.escape(why)}", flat)
    assert here(["compare", "empty"], capsys).status == 1


def test_json_is_what_the_records_say(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The facts decode strictly, and hold the same difference as the screen."""
    called = here(["compare", "amber", "basalt", "torn", "--json"], capsys)
    facts = msgspec.json.decode(called.out, type=ComparisonFacts)
    assert [e.name for e in facts.examinations] == ["Amber", "Basalt"]
    assert [o.folder for o in facts.left_out] == ["torn"]
    by_quantity = {d.quantity: d for d in facts.pairs[0].differences}
    assert by_quantity["c"].difference.value == pytest.approx(6e-12)
    assert by_quantity["c"].shared
    assert by_quantity["c"].told
    assert not by_quantity["series"].told


def test_a_page_is_written_once(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page stands by itself, and is not overwritten unless that is said."""
    arguments = ["compare", "amber", "basalt", "--page", "both.html"]
    assert here(arguments, capsys).status == 0
    page = (shelf / "both.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "Basalt adds 6.0 pF ± 0.9 more than Amber." in page
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="(?!#|data:)', page)
    assert page.count("<svg") == 3
    assert "prefers-color-scheme: dark" in page
    again = here(arguments, capsys)
    assert again.status == 1
    assert "exists already" in again.err
    assert here([*arguments, "--replace"], capsys).status == 0


def test_repair_takes_two(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Before and after: one sentence for each quantity; three folders are refused."""
    called = here(["compare", "chalk", "amber", "--repair"], capsys)
    flat = " ".join(called.out.split())
    assert "Capacitance, tip to sleeve: changed, from 60.0 pF ± 0.9 to 12.0 pF ± 0.9" in flat
    assert "In to out: no change told" in flat
    assert here(["compare", "chalk", "amber", "basalt", "--repair"], capsys).status == 2
    broken = here(["compare", "chalk", "torn", "--repair"], capsys)
    assert broken.status == 1
    assert "Before and after are both needed." in broken.err


def test_repeats_are_asked_for(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Folders of other names are one pedal where the user says so, and else are not."""
    named = here(["compare", "amber", "basalt"], capsys)
    assert "Repeated" not in named.out
    asked = here(["compare", "amber", "basalt", "--repeats"], capsys)
    flat = " ".join(asked.out.split())
    assert "Amber, examinations 1, 2: Capacitance, tip to sleeve: mean of 2 15.0 pF" in flat
    assert "does not explain it: something changed between." in flat


def test_show_from_kept_results_is_the_same(
    shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Screen and JSON of a kept result are those of the analysis, and nothing is computed."""
    found = cached_analysis(shelf / "basalt")
    assert here(["show", "basalt", "--json"], capsys).out == facts_json(found) + "\n"
    assert here(["show", "basalt"], capsys).out == result_screen(found, "basalt", signs=True) + "\n"


def test_a_hundred_are_listed_without_computing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From kept results nothing is loaded that analyses, draws or reads sound, and no recording is
    read again."""
    for number in range(100):
        path = tmp_path / f"pedal-{number:03d}"
        keep(path, stored_folder(path, f"Pedal {number}"), monkeypatch)
    code = (
        "import sys\n"
        "import loopback.examination.atomic as atomic, loopback.cache.contents as contents\n"
        "def refuse(path): raise AssertionError(f'{path} was read')\n"
        "contents.sha256_of = refuse\n"
        "from loopback.cli.main import main\n"
        "try:\n"
        "    main(['compare', *sys.argv[1:]])\n"
        "finally:\n"
        f"    loaded = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "    print('LOADED', loaded)\n"
    )
    folders = sorted(str(path) for path in tmp_path.iterdir())
    done = subprocess.run(
        [sys.executable, "-c", code, *folders],
        env=environment(PYTHONIOENCODING="utf-8"),
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=240,
    )
    assert done.returncode == 0, done.stderr
    assert "100 EXAMINATIONS" in done.stdout
    assert "LOADED []" in done.stdout
    assert "recognised by size and times" in done.stdout


def test_repeats_have_their_scatter() -> None:
    """Four examinations of one pedal: mean, standard deviation, how well it is known; a copy of one
    of them does not count."""
    values = (12.1e-12, 12.9e-12, 12.4e-12, 13.0e-12)
    made = [summary(c=c, place=i) for i, c in enumerate(values, 1)]
    copy = msgspec.structs.replace(made[0])
    found = compared(*made, copy, summary("Other", place=9), order="given")
    (repeat,) = found.repeats
    assert repeat.numbers == (1, 2, 3, 4)
    assert found.cautions[-1].code == "copies"
    assert found.cautions[-1].numbers == (5,)
    quantity, c = repeat.precisions[0]
    assert quantity == "c"
    assert c.mean.value == pytest.approx(12.6e-12)
    assert c.all_together == pytest.approx(0.4243e-12, rel=1e-3)
    # What is common to all of them cannot make them differ.
    assert c.stated == pytest.approx(
        (0.45**2 - 0.3**2 - (0.0058 * 12.6) ** 2) ** 0.5 * 1e-12, rel=0.01
    )
    text = precision_sentence(quantity, c)
    assert text.startswith("Capacitance, tip to sleeve: mean of 4 12.6 pF; standard deviation")
    assert "(0.24 to 1.6 pF at 95 %)" in text
    assert text.endswith("explains it.")


def test_names_that_collide_are_told_apart() -> None:
    """Pedals of one name are named with their folders, or with whole paths where that is needed."""
    one, two = summary("Lamp", place=1, serial="1"), summary("lamp ", place=2, serial="2")
    folders = [Path("/a/x"), Path("/a/y"), Path("/b/y")]
    given = [
        Given(f, s) for f, s in zip(folders, (one, two, summary("Lamp", place=3)), strict=True)
    ]
    names = [e.name for e in comparison_of(given, order="given").examined]
    assert names == ["Lamp (x)", "lamp (/a/y)", "Lamp (/b/y)"]


def test_order_is_by_load() -> None:
    """Wire comes first, heavier loads later; other orders are by name, by day and as given."""
    light, heavy = summary("B light", 12e-12, 2), summary("A heavy", 90e-12, 1)
    heavy = msgspec.structs.replace(heavy, grades=("loading",))
    wired = msgspec.structs.replace(
        summary("C wire", 12e-12, 3), path="wired", grades=("wire-like",)
    )

    def names(order: Order) -> list[str]:
        return [e.name[0] for e in compared(heavy, light, wired, order=order).examined]

    assert names("load") == ["C", "B", "A"]
    assert names("name") == ["A", "B", "C"]
    assert names("date") == ["A", "B", "C"]
    assert names("given") == ["A", "B", "C"]


def test_cautions_name_what_differs() -> None:
    """Other rates, other runs, refused runs and changed recordings are said beside the numbers."""
    one = summary(place=1)
    two = msgspec.structs.replace(
        summary("Other", place=2), rate_hz=96_000, hook_ups=("plain",), refused=2
    )
    given = [Given(Path("/a"), one, ("recordings/01-1.wav",)), Given(Path("/b"), two)]
    codes = [c.code for c in comparison_of(given, order="given").cautions]
    assert codes == ["one_setup", "rates", "hook_ups", "changed", "refused"]


def test_differences_of_one_with_itself_are_none() -> None:
    """Two equal examinations leave one sentence, which bounds every difference."""
    found = compared(summary(place=1), summary("Other", place=2))
    sentences = pair_sentences(found.pairs[0])
    assert len(sentences) == 1
    assert sentences[0].startswith(
        "No difference told: capacitance, tip to sleeve (within 0.88 pF)"
    )


class _Tags(html.parser.HTMLParser):
    """Every element and attribute of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[tuple[str, tuple[str, ...]]] = set()

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        self.seen.add((tag, tuple(name for name, _ in attrs)))


def _elements(page: str) -> set[tuple[str, tuple[str, ...]]]:
    parser = _Tags()
    parser.feed(page)
    return parser.seen


HOSTILE = st.one_of(
    st.text(max_size=60),
    st.sampled_from(
        (
            "<script>alert(1)</script>",
            '"><img src=x onerror=alert(1)>',
            "a\nb\r\nc\x1b[2J",
            "\u202egnp.exe\u202c",
            "../../etc/passwd",
            "{{ 7 * 7 }}{% raw %}",
            "\ud800",
            LONG_NAME * 4,
            "名前" * 30,
            "e\u0301" * 50,
            "&amp;&lt;",
            "",
            " ",
            "\x00",
        )
    ),
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(HOSTILE, HOSTILE)
def test_hostile_names_stay_text(name: str, other: str) -> None:
    """Whatever a pedal or a folder is called: lines stay lines, a page gets no other elements."""
    plain = compared(summary("A", place=1), summary("B", place=2))
    expected = _elements(comparison_page(plain, ()))
    given = [
        Given(Path("/shelf/" + other.replace("\0", "").replace("/", "")), summary(name, place=1)),
        Given(Path("/shelf/b"), summary(other, place=2)),
    ]
    gone = [LeftOut(Path("/gone/" + name.replace("\0", "")), "It is not there.")]
    found = comparison_of(given, gone, order="given")
    screen = comparison_screen(found, signs=True)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", screen)
    table = screen.split("\n\n")[1]
    assert len(table.split("\n")) == 3
    assert max(map(columns_of, table.split("\n"))) <= 80
    extra = {("section", ("id", "aria-labelledby")), ("h2", ("id",))}
    assert _elements(comparison_page(found, ())) <= expected | extra
    msgspec.json.decode(comparison_json(found), type=ComparisonFacts)


def test_a_kept_summary_holds_nothing_private(shelf: Path) -> None:
    """Notes are not in what a comparison keeps and shows."""
    path = shelf / "private"
    found = stored_folder(path, "Secret", private_note="do not tell", note="nor this")
    with pytest.MonkeyPatch.context() as patch:
        keep(path, found, patch)
    text = msgspec.json.encode(cached_summary(path).summary).decode()
    assert "do not tell" not in text
    assert "nor this" not in text
    assert isinstance(found.examination.pedal, Pedal)
