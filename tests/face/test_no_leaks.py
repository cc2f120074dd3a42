"""What must not be in the tracked files: one machine's paths, strange hosts, unfinished work."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml",
    "loopback", "tests", "fixtures", "scripts", ".ci", ".gitignore",
}  # fmt: skip
HOSTS = {"doi.org", "www.w3.org", "creativecommons.org", "json-schema.org"}

MACHINE_PATH = re.compile(r"(?<![\w.])/(?:home|root|work|Users|srv|opt|tmp|private)/\w")
HOST = re.compile(r"\b(?:[a-z0-9-]+\.)+(?:org|com|net|io|dev)(?=[/:\s\"'`)]|$)(?!\()")
DOCUMENT = re.compile(r"\b[\w-]+\.md\b")
UNFINISHED = re.compile(
    r"\b(?:TODO|FIXME|XXX|HACK|NotImplementedError|NotImplemented)\b"
    r"|#\s*type:\s*ignore|mark\.(?:skip|skipif|xfail)|pytest\.(?:xfail|importorskip)"
)
BARE_NOQA = re.compile(r"#\s*noqa(?!: [A-Z]+\d+(?:, [A-Z]+\d+)*\s+\S{3,})")
SKIP = re.compile(r"pytest\.skip\(")


def tracked() -> list[Path]:
    """Files under version control; in an unpacked copy, all files that could be."""
    try:
        listed = subprocess.run(
            ["git", "-C", str(ROOT), "ls-files", "-z"], capture_output=True, check=True
        ).stdout.decode()
    except (OSError, subprocess.CalledProcessError):
        wanted = (ROOT / name for name in TOP_LEVEL if (ROOT / name).exists())
        files = (f for top in wanted for f in ([top] if top.is_file() else top.rglob("*")))
        return [f for f in files if f.is_file() and "__pycache__" not in f.parts]
    return [path for name in listed.split("\0") if name and (path := ROOT / name).is_file()]


def _texts() -> Iterator[tuple[str, str]]:
    for path in tracked():
        if path == Path(__file__):
            continue
        try:
            yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a recording or a picture


def _found(pattern: re.Pattern[str]) -> list[str]:
    return [f"{name}: {hit.group()}" for name, text in _texts() for hit in pattern.finditer(text)]


def test_top_level_is_the_agreed_one() -> None:
    """Nothing stands at the top of the project but what belongs there."""
    assert {path.relative_to(ROOT).parts[0] for path in tracked()} <= TOP_LEVEL


@pytest.mark.parametrize("pattern", [MACHINE_PATH, UNFINISHED, BARE_NOQA], ids=lambda p: p.pattern)
def test_no_trace_of_a_machine_or_of_unfinished_work(pattern: re.Pattern[str]) -> None:
    """No absolute path of one machine, no unfinished mark, no silenced check without its reason."""
    found = _found(pattern)
    assert not found, "\n".join(found)


def test_hosts_are_known_ones() -> None:
    """The only network names in the files are those of published sources."""
    names = [(where, hit.group()) for where, text in _texts() for hit in HOST.finditer(text)]
    assert [f"{where}: {host}" for where, host in names if host not in HOSTS] == []


def test_documents_named_in_the_files_exist() -> None:
    """A text document that is mentioned is part of the project."""
    there = {path.name for path in tracked()}
    named = [(where, hit.group()) for where, text in _texts() for hit in DOCUMENT.finditer(text)]
    assert [f"{where}: {name}" for where, name in named if name not in there] == []


def test_only_missing_system_parts_skip() -> None:
    """No test skips itself; only the shared rule for missing system parts does."""
    assert {hit.split(":")[0] for hit in _found(SKIP)} <= {
        "tests/conftest.py",
        "tests/face/test_skips.py",
    }


def test_no_file_is_too_long() -> None:
    """No file of the package has more than 300 lines, and no table of tests more than 450."""
    lengths = {n: t.count("\n") for n, t in _texts() if n.endswith(".py")}
    limits = {n: 450 if n.startswith("tests/") else 300 for n in lengths}
    long = [f"{n}: {length} lines" for n, length in lengths.items() if length > limits[n]]
    assert not long, "\n".join(long)


def test_the_patterns_can_fail() -> None:
    """Each pattern above finds what it is for."""
    assert MACHINE_PATH.search("see /" + "root/x")
    assert UNFINISHED.search("# TO" + "DO later")
    assert BARE_NOQA.search("x = 1  # no" + "qa: E501")
    assert not BARE_NOQA.search("x = 1  # no" + "qa: E501 the table reads better in one line")
    assert HOST.search("from files.example." + "org/simple")
    assert not HOST.search("import scipy.io.wavfile")


def _functions(tree: ast.AST) -> dict[str, ast.FunctionDef]:
    return {n.name: n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)}


def _asserts(function: ast.FunctionDef, others: dict[str, ast.FunctionDef], deep: int = 3) -> bool:
    """Tell whether a test can fail: an assert that is no constant, or a call of what asserts."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assert) and not isinstance(node.test, ast.Constant):
            return True
        if isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            called = node.func.id if isinstance(node.func, ast.Name) else called
            if called in ("raises", "warns") or called.startswith(("assert_", "check_", "must_")):
                return True
            if deep and called in others and _asserts(others[called], others, deep - 1):
                return True
    return False


def test_every_test_asserts_and_says_what_is_true() -> None:
    """Every test function can fail, has a docstring, and does not wait on a clock."""
    wrong: list[str] = []
    for name, text in _texts():
        if not name.startswith("tests/") or not name.endswith(".py"):
            continue
        functions = _functions(ast.parse(text))
        for function in functions.values():
            if not function.name.startswith("test_"):
                continue
            if not _asserts(function, functions):
                wrong.append(f"{name}: {function.name} asserts nothing")
            if not ast.get_docstring(function):
                wrong.append(f"{name}: {function.name} does not say what is true")
            if "sleep(" in ast.unparse(function):
                wrong.append(f"{name}: {function.name} sleeps")
    assert not wrong, "\n".join(wrong)
