"""Web pages from templates: escaping on, nothing loaded from anywhere."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from markupsafe import Markup

#: Signs that could end a script element, or a line of one, written so that JSON still reads them.
_UNSAFE = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def template_text(name: str) -> str:
    """Read a file of the templates folder.

    Parameters
    ----------
    name : str
        File name.

    Returns
    -------
    str
        Its text.
    """
    return (files("treatment.present") / "templates" / name).read_text(encoding="utf-8")


def page(name: str, **values: Any) -> str:
    """Fill a template.

    Parameters
    ----------
    name : str
        File of the templates folder.
    **values : object
        What the template names; text is escaped unless it is `Markup`.

    Returns
    -------
    str
        The page.
    """
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    environment = Environment(
        loader=FunctionLoader(template_text),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # Half a surrogate pair has no place in a file; whoever typed it sees a question mark.
    return environment.get_template(name).render(**values).encode("utf-8", "replace").decode("utf-8")


def embedded_json(value: Any) -> Markup:
    """Write data for a script element of a page.

    Parameters
    ----------
    value : object
        What JSON can hold.

    Returns
    -------
    markupsafe.Markup
        JSON in which no sign can end the element.
    """
    text = json.dumps(value, separators=(",", ":"), allow_nan=False)
    for sign, safe in _UNSAFE.items():
        text = text.replace(sign, safe)
    return Markup(text)
