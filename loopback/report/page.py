"""Pages: templates filled in one place, and the only place that uses jinja2.

Every template is rendered with autoescape on and with undefined names refused, so that a name or a
note can never become an element, and a field that is missing is a mistake and not a gap.
"""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from loopback.report.layout import kept_together


def render(template: str, **context: object) -> str:
    """Fill a template.

    Parameters
    ----------
    template : str
        File name in the folder ``templates`` of this package, such as ``"report.html.j2"``.
    **context : object
        What the template names. Text is escaped, whatever is in it; only the macro that sets
        our own drawings marks them as safe. Numbers are held to their units.

    Returns
    -------
    str
        The page.

    Raises
    ------
    jinja2.UndefinedError
        If the template names what is not in the context.
    """
    return _environment().get_template(template).render(**context)


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("loopback.report"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _unbroken(value: object) -> object:
    """Hold a number and its unit or its doubt together; markup of our own stays as it is."""
    return kept_together(value, "\u00a0") if type(value) is str else value
