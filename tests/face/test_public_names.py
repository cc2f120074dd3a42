"""The names the package promises: sorted, importable, documented; and its command."""

from __future__ import annotations

import tomllib
from importlib import import_module
from importlib.metadata import entry_points, version
from pathlib import Path

import pytest

import loopback

PYPROJECT = Path(__file__).parent.parent.parent / "pyproject.toml"


def test_names_are_sorted_and_unique() -> None:
    """The list of public names is sorted and holds each once."""
    assert list(loopback.__all__) == sorted(set(loopback.__all__))
    assert set(loopback.__all__) <= set(dir(loopback))


@pytest.mark.parametrize("name", loopback.__all__)
def test_every_public_name_resolves_and_is_documented(name: str) -> None:
    """Each public name is the object of that name in its home, and has a docstring."""
    thing = getattr(loopback, name)
    assert thing is getattr(import_module(thing.__module__), name)
    assert (thing.__doc__ or "").strip()


def test_unknown_name_is_an_attribute_error() -> None:
    """A name that does not exist is refused as Python does it."""
    with pytest.raises(AttributeError, match="no attribute 'no_such_name'"):
        _ = loopback.no_such_name


def test_version_is_the_installed_one() -> None:
    """The version in the package, in its metadata and in the project file agree."""
    stated = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]["version"]
    assert loopback.__version__ == stated == version("loopback")


def test_the_command_exists() -> None:
    """The installed command points at something that can be called."""
    (command,) = entry_points(group="console_scripts", name="loopback")
    assert callable(command.load())
