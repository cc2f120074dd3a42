"""Who may import whom, read from the source: arrows point one way, and four files own the outside.

The order is the flow of a measurement; a part may import what stands in a row above its own.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parent.parent.parent / "loopback"

ROWS = (
    ("errors", "texts", "quantity", "arrays", "circuit"),
    ("signal",),
    ("plan",),
    ("simulate",),
    ("rig",),
    ("examination",),
    ("response", "noise"),
    ("switching",),
    ("quality",),
    ("identify",),
    ("verdict", "player", "meter"),
    ("facts",),
    ("analysis", "comparing"),
    ("cache",),
    ("report", "guided"),
    ("notebook", "proof"),
    ("cli",),
)
ROW_OF = {part: number for number, row in enumerate(ROWS) for part in row}
BASE = ROWS[0]

OWNERS = {
    "sounddevice": ("rig/device.py",),
    "soundfile": ("examination/wav.py",),
    "matplotlib": ("report/figures/",),
    "jinja2": ("report/page.py",),
    "click": ("cli/",),
    "rich": ("cli/", "report/text.py"),
}
NEVER = (
    "matplotlib.pyplot",
    "unittest.mock",
    "requests",
    "urllib.request",
    "http.client",
    "socket",
)


def _imports(path: Path) -> Iterator[str]:
    """Every module a file imports, anywhere in it, with full dotted name."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write the full name"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _all_imports() -> Iterator[tuple[str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        inside = path.relative_to(PACKAGE).as_posix()
        for name in _imports(path):
            yield inside, name


def _part(inside: str) -> str:
    return inside.split("/")[0].removesuffix(".py")


def arrow_is_allowed(importer: str, imported: str) -> bool:
    """Tell whether a file (path in the package) may import a module of the package."""
    part, target = _part(importer), imported.split(".")[1]
    if part == target or target == "__version__":
        return True
    if part == "simulate":
        return target in (*BASE, "signal") or imported.startswith("loopback.plan.runs.")
    if target == "simulate":
        return importer == "rig/simulated.py"
    return ROW_OF[target] < ROW_OF[part] or (part in BASE and target in BASE)


def owns(importer: str, library: str) -> bool:
    """Tell whether a file may import an outside library that has owners."""
    return any(importer == owner or importer.startswith(owner) for owner in OWNERS[library])


def test_every_part_has_its_place() -> None:
    """Each module or folder of the package stands in the order above."""
    found = {
        _part(path.relative_to(PACKAGE).as_posix())
        for path in PACKAGE.rglob("*.py")
        if path.parent != PACKAGE or path.stem not in ("__init__", "__main__")
    }
    assert found <= set(ROW_OF), f"no place stated for {sorted(found - set(ROW_OF))}"


def test_arrows_point_one_way() -> None:
    """No file imports a part that stands beside or after its own."""
    wrong = [
        f"{importer} imports {name}"
        for importer, name in _all_imports()
        if name.startswith("loopback.") and "/" + importer not in ("/__init__.py", "/__main__.py")
        if not arrow_is_allowed(importer, name)
    ]
    assert not wrong, "\n".join(wrong)


def test_the_arrow_rule_can_fail() -> None:
    """The rule refuses a back arrow, a neighbour, and every other user of the simulator."""
    assert not arrow_is_allowed("signal/take.py", "loopback.rig.protocol.Rig")
    assert not arrow_is_allowed("noise/figures.py", "loopback.response.reading.Ratio")
    assert not arrow_is_allowed("cli/demo.py", "loopback.simulate.scenario.Scenario")
    assert not arrow_is_allowed("simulate/scenario.py", "loopback.rig.protocol.Rig")
    assert arrow_is_allowed("simulate/scenario.py", "loopback.plan.runs.RunLabel")
    assert arrow_is_allowed("rig/simulated.py", "loopback.simulate.scenario.Scenario")


def test_outside_libraries_have_one_owner() -> None:
    """sounddevice, soundfile, matplotlib, jinja2 and the terminal are met in one place each."""
    wrong = [
        f"{importer} imports {name}"
        for importer, name in _all_imports()
        if (library := name.split(".")[0]) in OWNERS and not owns(importer, library)
    ]
    assert not wrong, "\n".join(wrong)
    assert not owns("analysis.py", "soundfile")


def test_nothing_global_and_no_network() -> None:
    """No pyplot state, no mock in the package, and nothing that could phone home."""
    wrong = [
        f"{importer} imports {name}"
        for importer, name in _all_imports()
        if any(name == bad or name.startswith(bad + ".") for bad in NEVER)
    ]
    assert not wrong, "\n".join(wrong)


def test_package_files_hold_only_a_docstring() -> None:
    """Folders re-export nothing: a name has one home."""
    for path in PACKAGE.rglob("*/__init__.py"):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        assert len(body) == 1, f"{path.relative_to(PACKAGE)} holds more than a docstring"
        assert isinstance(body[0], ast.Expr)
