"""Pages: templates filled in one place, and the only place that uses jinja2.

Every template is rendered with autoescape on and with undefined names refused, so that a name or a
note can never become an element, and a field that is missing is a mistake and not a gap.
"""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined


def render(template: str, **context: object) -> str:
    """Fill a template.

    Parameters
    ----------
    template : str
        File name in the folder ``templates`` of this package, such as ``"report.html.j2"``.
    **context : object
        What the template names. Text is escaped, whatever is in it; only the macro that sets
        our own drawings marks them as safe.

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
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
