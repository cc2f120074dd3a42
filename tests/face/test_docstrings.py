"""Docstrings of public names are complete: summary, parameters, what comes back, what is raised.

The form is numpydoc's. Read from the source with `ast`, so nothing needs to be imported.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).parent.parent.parent / "loopback"
Function = ast.FunctionDef | ast.AsyncFunctionDef
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)


@dataclass(frozen=True)
class Named:
    """A public function, method or class with where it stands."""

    where: str
    node: Function | ast.ClassDef
    in_class: bool


def _is_public(name: str) -> bool:
    return not name.startswith("_")


def _public(path: Path) -> Iterator[Named]:
    inside = path.relative_to(PACKAGE).as_posix()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, Function | ast.ClassDef) and _is_public(node.name):
            yield Named(f"{inside}: {node.name}", node, in_class=False)
            for part in node.body if isinstance(node, ast.ClassDef) else ():
                if isinstance(part, Function) and _is_public(part.name):
                    yield Named(f"{inside}: {node.name}.{part.name}", part, in_class=True)


def _all_public() -> list[Named]:
    return [named for path in sorted(PACKAGE.rglob("*.py")) for named in _public(path)]


def sections(docstring: str) -> dict[str, str]:
    """Split a docstring at its underlined headings; the text before the first is ``""``."""
    pieces = SECTION.split(docstring)
    return {"": pieces[0]} | dict(zip(pieces[1::2], pieces[2::2], strict=True))


def entries(section: str) -> set[str]:
    """Names that head the entries of a section: ``a, b : type`` gives a and b."""
    heads = [line for line in section.splitlines() if line and not line[0].isspace()]
    return {name.strip(" *`") for head in heads for name in head.split(" :")[0].split(",")}


def _arguments(node: Function, in_class: bool) -> set[str]:
    a = node.args
    names = [x.arg for x in (*a.posonlyargs, *a.args, *a.kwonlyargs, a.vararg, a.kwarg) if x]
    return set(names[1:] if in_class and names and names[0] in ("self", "cls") else names)


def _fields(node: ast.ClassDef) -> set[str]:
    """Annotated fields of a record without a default docstring of their own."""
    return {
        part.target.id
        for part in node.body
        if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name)
        if _is_public(part.target.id) and "ClassVar" not in ast.unparse(part.annotation)
    }


def _own_nodes(node: ast.AST) -> Iterator[ast.AST]:
    """Everything in a function's body but what belongs to functions defined inside it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, Function | ast.ClassDef | ast.Lambda):
            yield child
            yield from _own_nodes(child)


def _raised(node: Function, errors: set[str]) -> set[str]:
    calls = (n.exc for n in _own_nodes(node) if isinstance(n, ast.Raise) and n.exc is not None)
    names = (c.func if isinstance(c, ast.Call) else c for c in calls)
    return {n.id for n in names if isinstance(n, ast.Name) and n.id in errors}


def _returns_value(node: Function) -> bool:
    return node.returns is not None and ast.unparse(node.returns) not in ("None", "NoReturn")


def package_errors() -> set[str]:
    """Names of all errors in the one tree."""
    tree = ast.parse((PACKAGE / "errors.py").read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.ClassDef)}


def faults(named: Named, errors: set[str]) -> list[str]:
    """List everything that a docstring leaves out; empty when it is complete."""
    node, text = named.node, ast.get_docstring(named.node) or ""
    if not text:
        return [f"{named.where} has no docstring"]
    found = sections(text)
    out: list[str] = []
    if not found[""].strip().split("\n\n")[0].rstrip().endswith((".", "?", ":")):
        out.append("its summary is no sentence")
    described = entries(found.get("Parameters", "")) | entries(found.get("Attributes", ""))
    if isinstance(node, ast.ClassDef):
        # Errors and other plain classes describe what their constructor takes.
        start = [p for p in node.body if isinstance(p, Function) and p.name == "__init__"]
        expected = _arguments(start[0], in_class=True) if start else _fields(node)
        out.extend(f"field {name} is not described" for name in sorted(expected - described))
        out.extend(f"{name} is described but not there" for name in sorted(described - expected))
    else:
        expected = _arguments(node, named.in_class)
        # A method may say all in its first sentence; a section that exists is complete.
        if not named.in_class or described:
            out.extend(f"{name} is not described" for name in sorted(expected - described))
        out.extend(f"{name} is described but not there" for name in sorted(described - expected))
        if not named.in_class and _returns_value(node) and not found.keys() & {"Returns", "Yields"}:
            out.append("does not say what it returns")
        missing = _raised(node, errors) - entries(found.get("Raises", ""))
        out.extend(f"does not list {name} under Raises" for name in sorted(missing))
    return [f"{named.where}: {fault}" for fault in out]


def test_public_names_are_fully_documented() -> None:
    """Every public function, method and class says what it takes, gives back and raises.

    The functions in cli/ are the command line itself: their docstrings are the help page, and
    their parameters are described by their options.
    """
    errors = package_errors()
    checked = [named for named in _all_public() if not named.where.startswith("cli/")]
    assert len(checked) > 20
    found = [fault for named in checked for fault in faults(named, errors)]
    assert not found, "\n".join(found)


def test_every_module_and_command_says_what_it_is() -> None:
    """Every file has a docstring, and every public function of the command line too."""
    bare = [
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert bare == []
    commands = [named for named in _all_public() if named.where.startswith("cli/")]
    assert [named.where for named in commands if not ast.get_docstring(named.node)] == []


BAD = '''
def level(x, gain):
    """Give the level

    Parameters
    ----------
    x : float
        Value.
    y : float
        Not there.
    """
    if x < 0:
        raise ArgumentError("")
    return 1


def bare(x: int) -> int:
    return x


def good(x: float) -> float:
    """Return the level.

    Parameters
    ----------
    x : float
        Value.

    Returns
    -------
    float
        In dB.

    Raises
    ------
    ArgumentError
        If it is negative.
    """
    if x < 0:
        raise ArgumentError("")
    return x
'''


def test_the_lint_can_fail() -> None:
    """A gap of each kind is seen in an invented function, and a complete one passes."""
    level, bare, good = (Named(n.name, n, False) for n in ast.parse(BAD).body)
    assert faults(level, {"ArgumentError"}) == [
        "level: its summary is no sentence",
        "level: gain is not described",
        "level: y is described but not there",
        "level: does not list ArgumentError under Raises",
    ]
    assert faults(bare, set()) == ["bare has no docstring"]
    assert faults(good, {"ArgumentError"}) == []
