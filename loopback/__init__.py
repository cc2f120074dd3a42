"""Bypass tester: what a guitar pedal does to the line when it is off, with evidence.

Public names resolve on first use, so that importing the package loads no numeric library.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES: dict[str, str] = {
    "LoopbackError": "loopback.errors",
    "Estimate": "loopback.quantity",
    "Signal": "loopback.signal.take",
    "plan_signal": "loopback.signal.take",
    "render_take": "loopback.signal.take",
    "RunLabel": "loopback.plan.runs",
    "StoredExamination": "loopback.examination.stored",
    "read_samples": "loopback.examination.wav",
    "Result": "loopback.verdict.result",
    "Analysis": "loopback.facts",
    "analyse": "loopback.analysis",
    "Curve": "loopback.notebook.curves",
    "compare": "loopback.notebook.comparing",
    "pair_sentences": "loopback.comparing.sentences",
    "curves": "loopback.notebook.curves",
    "figure": "loopback.notebook.figures",
    "open_examination": "loopback.notebook.examinations",
    "simulate_examination": "loopback.notebook.examinations",
}
"""In which module each public name stands; `loopback.notebook` shows how they go together."""

__all__ = sorted(_HOMES)
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'loopback' has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
