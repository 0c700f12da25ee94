"""The report as a PDF, where the package that can make one is installed; the extra is ``pdf``."""

from __future__ import annotations

import logging
import re
from typing import Final

from treatment.errors import TreatmentError
from treatment.present.extras import install_hint

#: Long words break where they must only: weighing every sign of every table costs more than all the rest.
_STYLE: Final = "p, li, td, th, h1 { overflow-wrap: break-word !important }"
#: A text whose rim is painted before it; WeasyPrint knows no ``paint-order`` and would paint the rim over it.
_RIMMED: Final = re.compile(
    r'(<text [^>]*?)( stroke="[^"]*" stroke-width="[^"]*" paint-order="stroke" stroke-linejoin="round")'
    r"([^>]*>[^<]*</text>)"
)


def pdf_possible() -> bool:
    """Whether WeasyPrint and the libraries that it needs are here."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):  # OSError: the package is there, but Pango is not
        return False
    return True


def report_pdf(html: str) -> bytes:
    """Turn the report into a PDF, laid out as its print style says.

    Parameters
    ----------
    html : str
        As from `treatment.present.report.report_html`.

    Returns
    -------
    bytes
        The PDF: A4, the wall drawings in landscape and to scale.

    Raises
    ------
    TreatmentError
        When it cannot be made here.
    """
    try:
        import weasyprint
    except (ImportError, OSError) as error:
        raise TreatmentError(
            f"a PDF needs the package weasyprint: {error}", hint=install_hint("pdf")
        ) from error

    # Everything stands in the page, pictures as data; nothing is fetched from files or the network.
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols={"data"})
    quiet = logging.getLogger("weasyprint")
    level = quiet.level
    quiet.setLevel(logging.CRITICAL)  # it tells of every property that only screens know
    try:
        sheet = weasyprint.CSS(string=_STYLE)
        made = weasyprint.HTML(string=_RIMMED.sub(r"\1\2\3\1\3", html), url_fetcher=fetcher).write_pdf(
            stylesheets=[sheet]
        )
    except Exception as error:  # whatever a layout engine stumbles over, the report itself is there
        reason = " ".join(str(error).split())[:160] or type(error).__name__
        raise TreatmentError(
            f"the PDF could not be made: {reason}", hint="print report.html instead"
        ) from error
    finally:
        quiet.setLevel(level)
    return bytes(made)
