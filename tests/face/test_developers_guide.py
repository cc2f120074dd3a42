"""The guide for developers agrees with the code: map, owners, sources, dependencies."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PACKAGE = ROOT / "loopback"

AUTHOR_YEAR = re.compile(
    r"\b([A-Z][a-zéü]{2,})(?:(?:, [A-Z][a-zéü]+)* and [A-Z]?[a-zéü]+| et al\.)? ((?:19|20)\d\d)\b"
)
STANDARD = re.compile(
    r"\b(?:JCGM \d+|IEC \d+(?:-\d+)*|AES\d+|EBU Tech \d+|ISO \d+|CIE \d\d\b(?!\d))"
)
MONTHS = {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}


def _sources() -> dict[str, str]:
    files = [*PACKAGE.rglob("*.py"), *PACKAGE.rglob("*.cir"), *(ROOT / "tests").rglob("*.py")]
    return {str(f.relative_to(ROOT)): f.read_text(encoding="utf-8") for f in files}


def _bibliography() -> str:
    return " ".join(GUIDE.split("## Bibliography")[1].split())


def test_every_part_is_on_the_map() -> None:
    """Each module and folder of the package has its line in the map."""
    parts = {p.stem for p in PACKAGE.iterdir() if p.is_dir() or p.suffix == ".py"}
    listed = set(re.findall(r"`(\w+)/?`", GUIDE.split("## The map")[1].split("## Conventions")[0]))
    assert parts - {"__init__", "__main__", "__pycache__"} <= listed


def test_every_source_is_in_the_bibliography() -> None:
    """Whoever is cited by name and year, and every standard, can be looked up."""
    books = _bibliography()
    missing = set()
    for where, text in _sources().items():
        for name, year in AUTHOR_YEAR.findall(text):
            if name not in MONTHS and not re.search(rf"{name}[^.:]* {year}", books):
                missing.add(f"{where}: {name} {year}")
        missing |= {f"{where}: {s}" for s in STANDARD.findall(text) if s not in books}
    assert not missing, "\n".join(sorted(missing))


def test_every_book_is_cited() -> None:
    """The bibliography holds nothing that no docstring or test cites."""
    code = " ".join(" ".join(text.split()) for text in _sources().values())
    for name, year in AUTHOR_YEAR.findall(_bibliography()):
        assert re.search(rf"{name}\b[^.:;()]* {year}|{name} et al. {year}", code), f"{name} {year}"


def test_every_dependency_has_a_reason() -> None:
    """Each run-time dependency has its line in the table."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for requirement in project["dependencies"]:
        name = re.split(r"[<>=~!\[ ]", requirement)[0]
        assert f"| {name} |" in GUIDE, name


def test_files_named_in_the_guide_exist() -> None:
    """A path in the guide leads to a file, in the project or in the package."""
    for path in re.findall(r"`([\w./]+\.(?:py|toml|cir))`", GUIDE):
        if path == "report/page.py":
            continue  # said there to come
        found = [base / path for base in (ROOT, PACKAGE, ROOT / "tests" / "contract")]
        assert any(candidate.exists() for candidate in found), path
