"""A verification in plain words, and as JSON."""

from __future__ import annotations

from typing import Any

import msgspec

from loopback.proof.comparing import U_SHARE, Difference
from loopback.proof.files import NoteCode, Problem, ProblemCode
from loopback.proof.verify import Verification
from loopback.report.dates import date_text
from loopback.report.item_words import HEADINGS
from loopback.report.layout import Row, lay_out
from loopback.texts import one_line

FOLLOWS = "The published numbers follow from these recordings."
FOLLOWS_NOT = "The published numbers do not follow from these recordings."
FOLLOWS_BUT = "The numbers come out again, but not everything is as it was published."
UNPUBLISHED = "Nothing has been published from this folder, so there is nothing to compare."
MOST_LISTED = 12
MOST_NOTES = 4

_PROBLEMS: dict[ProblemCode, str] = {
    "recording_changed": "was changed after it was recorded",
    "recording_missing": "is missing",
    "recording_not_listed": "was published, and is no longer listed in examination.json",
    "recording_replaced": "is not the recording that was published",
    "document_changed": "was changed after it was published",
    "input_changed": "was changed after it was published",
    "input_missing": "was there when the numbers were published, and is missing",
    "input_added": "was not there when the numbers were published",
    "page_changed": "is not the page that was published",
    "seal_broken": "was changed by hand: its seal does not fit",
    "order_broken": "does not follow the one before it: one was taken out, or changed",
}
_NOTES: dict[NoteCode, str] = {
    "extra_file": "belongs to no run; not used",
    "added_recording": "was added after it was published; not used here",
    "page_missing": "was published, and is not in this folder",
    "page_elsewhere": "was written to another place, and not checked",
}


def verification_screen(
    found: Verification, folder: str, *, everything: bool = False, signs: bool = True
) -> str:
    """Write what came out on one screen.

    Parameters
    ----------
    found : Verification
        Of one folder.
    folder : str
        As it can be pasted into a command.
    everything : bool
        List all differences instead of the first ones.
    signs : bool
        False writes ± and the like out.

    Returns
    -------
    str
        Lines of at most 80 columns where the names in them allow it.
    """
    wrong = sum(p.code in ("recording_changed", "recording_missing") for p in found.problems)
    rows = [
        Row(
            "Recordings",
            f"{found.recordings - wrong} of {found.recordings} are, byte for byte, what was made",
        ),
        *_computed(found),
    ]
    listed = _reasons(found)
    most = len(listed) if everything else MOST_LISTED
    more = [f"... and {len(listed) - most} more (--all lists them)"] if len(listed) > most else []
    reasons = [f"! {line}" for line in listed[:most]]
    rows.append(Row("Result", "\n".join([result_sentence(found), *reasons, *more])))
    rows.append(Row("Words changed", "\n".join(_words(found))))
    notes = [f"{one_line(note.where)} {_NOTES[note.code]}" for note in found.notes]
    most = len(notes) if everything else MOST_NOTES
    more = [f"... and {len(notes) - most} more (--all lists them)"] if len(notes) > most else []
    rows.append(Row("Noticed", "\n".join([*notes[:most], *more])))
    rows.append(Row("Next", _next(found, folder)))
    return f"{_head(found)}\n\n{lay_out(rows, signs=signs)}"


def result_sentence(found: Verification) -> str:
    """Say in one sentence whether the published numbers follow.

    Parameters
    ----------
    found : Verification
        Of one folder.

    Returns
    -------
    str
        Plain words.
    """
    if found.publication is None:
        return UNPUBLISHED
    if found.follows:
        return FOLLOWS
    return FOLLOWS_BUT if found.numbers_follow else FOLLOWS_NOT


def verification_json(found: Verification) -> str:
    """Write the same for machines.

    Parameters
    ----------
    found : Verification
        Of one folder.

    Returns
    -------
    str
        One object.
    """
    publication = found.publication
    differences = _differences(found)
    document: dict[str, Any] = {
        "format": "loopback-verification",
        "version": 1,
        "pedal": found.pedal,
        "follows": found.follows if publication is not None else None,
        "numbers_follow": found.numbers_follow if publication is not None else None,
        "result": result_sentence(found),
        "comparison": "none" if publication is None else "exact" if found.exact else "tolerance",
        "publication": found.number or None,
        "publications": found.of,
        "published": None if publication is None else publication.made,
        "published_by": None if publication is None else publication.program,
        "published_on": None if publication is None else publication.machine,
        "verified_by": found.program,
        "verified_on": found.machine,
        "recordings": found.recordings,
        "leaves": found.facts.leaves if found.facts else 0,
        "curves": found.curves.leaves if found.curves else 0,
        "within_tolerance": sum(c.within for c in (found.facts, found.curves) if c),
        "problems": [
            {"code": p.code, "where": p.where, "said": _PROBLEMS[p.code]} for p in found.problems
        ],
        "notes": [{"code": n.code, "where": n.where, "said": _NOTES[n.code]} for n in found.notes],
        "words_changed": [
            {"field": w.name, "published": w.before, "now": w.after} for w in found.reworded
        ],
        "differences": [
            {"where": d.path, "kind": d.kind, "published": d.published, "recomputed": d.found}
            for d in differences
        ],
    }
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode()


def _head(found: Verification) -> str:
    name = one_line(found.pedal, 60)
    publication = found.publication
    if publication is None:
        return f"{name}: not published"
    which = f"publication {found.number} of {found.of}, " if found.of > 1 else ""
    by = one_line(publication.program, 20)
    return f"{name}\npublished {one_line(date_text(publication.made), 30)} ({which}loopback {by})"


def _computed(found: Verification) -> list[Row]:
    if found.facts is None or found.curves is None:
        return []
    differ = len(_differences(found))
    within = found.facts.within + found.curves.within
    outcome = "the same within the tolerance" if within else "the same to the last bit"
    if differ:
        outcome = f"{differ} differ" if differ > 1 else "1 differs"
    count = f"{found.facts.leaves} numbers and words, {found.curves.leaves} curves: {outcome}"
    if found.exact:
        how = "bit for bit: same version, same kind of machine"
    else:
        why = "another kind of machine"
        if found.publication is not None and found.machine == msgspec.structs.replace(
            found.publication.machine, threads=found.machine.threads
        ):
            why = "another number of threads"
        if not found.same_version:
            ours = found.publication is not None and found.publication.program == found.program
            why = "the program was changed since" if ours else f"version {found.program} here"
        how = f"within {U_SHARE:.0%} of each standard uncertainty, words exactly: {why}"
    reworded = sum(d.kind == "prose" for d in found.facts.differences)
    if reworded and not found.same_version:
        how += f"\n{reworded} sentence(s) are worded differently by this version; not counted"
    return [Row("Computed again", count), Row("Compared", how)]


def _differences(found: Verification) -> tuple[Difference, ...]:
    """Collect those that count: another version may add facts and reword its sentences."""
    every = (
        *(found.facts.differences if found.facts else ()),
        *(found.curves.differences if found.curves else ()),
    )
    return (
        every if found.same_version else tuple(d for d in every if d.kind not in ("prose", "new"))
    )


def _reasons(found: Verification) -> list[str]:
    return [
        *(_problem(problem) for problem in found.problems),
        *(_difference(difference) for difference in _differences(found)),
    ]


def _problem(problem: Problem) -> str:
    return f"{one_line(problem.where)} {_PROBLEMS[problem.code]}"


def _difference(difference: Difference) -> str:
    old, new = _values(difference.published, difference.found)
    where = one_line(difference.path.removeprefix("$."))
    if difference.kind == "gone":
        return f"{where}: published {old}, not found now"
    if difference.kind == "new":
        return f"{where}: not published, now {new}"
    return f"{where}: published {old}, recomputed {new}"


def _values(old: Any, new: Any) -> tuple[str, str]:
    """Write two values with as many digits as it takes to tell them apart."""
    for digits in (4, 8, 17):
        texts = _value(old, digits), _value(new, digits)
        if texts[0] != texts[1]:
            break
    return texts


def _value(value: Any, digits: int) -> str:
    if isinstance(value, dict) and "value" in value and "u" in value:
        return f"{_value(value['value'], digits)} (u {_value(value['u'], digits)})"
    if isinstance(value, float):
        return f"{value:.{digits}g}"
    if value is None:
        return "nothing"
    if not isinstance(value, str):
        return one_line(msgspec.json.encode(value).decode(), 60)
    return f'"{one_line(value, 30 * digits)}"'


def _words(found: Verification) -> list[str]:
    """List words that say something else now, and that no number follows from them."""
    told = [
        f"{HEADINGS[w.name]}: published {_value(w.before or None, 4)}, "
        f"now {_value(w.after or None, 4)}"
        for w in found.reworded
    ]
    return [*told, "No number follows from these words."] if told else []


def _next(found: Verification, folder: str) -> str:
    codes = {problem.code for problem in found.problems}
    if found.publication is None and not codes:
        return f"To publish:  loopback report {folder}"
    if found.follows and found.reworded:
        return f"To publish the words of now:  loopback report {folder} --replace"
    if found.follows:
        return ""
    if codes & {"recording_changed", "recording_missing", "recording_not_listed"}:
        return "Restore the files from a copy, or ask whoever sent the folder for it again."
    if found.publication is not None and not found.numbers_follow and not found.same_version:
        version = one_line(found.publication.program)
        state = "An earlier or later state of" if version == found.program else "Version"
        number = version if state == "Version" else f"version {version}"
        return f"{state} {number} published this; with that program it is compared bit for bit."
    return (
        f"If the change is yours, publish again:  loopback report {folder}\n"
        "If not, ask whoever sent the folder for it again."
    )
