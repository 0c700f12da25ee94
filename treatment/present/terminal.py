"""Tables on a terminal, all of one look."""

from __future__ import annotations

from rich.table import Table


def plain_table(*columns: str, title: str = "") -> Table:
    """Make a table without lines: the first column to the left, the others to the right.

    Parameters
    ----------
    *columns : str
        Headings.
    title : str
        Above it.

    Returns
    -------
    rich.table.Table
        Without rows.
    """
    table = Table(title=title or None, title_justify="left", box=None, pad_edge=False, header_style="bold")
    for i, column in enumerate(columns):
        table.add_column(column, justify="left" if i == 0 else "right", no_wrap=i > 0)
    return table
