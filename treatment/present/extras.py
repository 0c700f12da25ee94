"""How to install what only some outputs need; the program is installed from its source, not by its name."""

from __future__ import annotations


def install_hint(extra: str) -> str:
    """Say how to install one group of further packages.

    Parameters
    ----------
    extra : str
        ``browser`` or ``pdf``, as in ``pyproject.toml``.

    Returns
    -------
    str
        A command for the clone. By its name alone a registry would give whatever else bears that name.
    """
    return f"in the clone of the program: pip install '.[{extra}]'"
