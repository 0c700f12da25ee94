"""Light and dark pages: one style sheet of colours, one switch that is remembered."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import cache

from treatment.present.pages import template_text
from treatment.present.palette import DARK, LIGHT


def colours_css() -> str:
    """Write the colours as a style sheet: as the system wishes, or as the switch says; print is light.

    Returns
    -------
    str
        CSS that sets ``--ink`` and the others on the root.
    """
    light, dark = _variables(LIGHT), _variables(DARK)
    return (
        f":root {{ color-scheme: light; {light} }}\n"
        "@media screen and (prefers-color-scheme: dark) {\n"
        f"  :root:not([data-theme=light]) {{ color-scheme: dark; {dark} }}\n"
        "}\n"
        "@media screen {\n"
        f"  :root[data-theme=dark] {{ color-scheme: dark; {dark} }}\n"
        "}\n"
    )


def _variables(colours: Mapping[str, str]) -> str:
    return " ".join(f"--{name}: {colour};" for name, colour in colours.items())


@cache
def theme_script() -> str:
    """Script of the switch; it stands in the page, or is served beside it."""
    return template_text("theme.js").strip()


@cache
def theme_script_hash() -> str:
    """Hash by which a page's security policy allows the script and no other (CSP level 2, 4.2.5)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(theme_script().encode()).digest()).decode()}'"
