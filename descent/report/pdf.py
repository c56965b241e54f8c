# SPDX-License-Identifier: MIT
"""HTML to PDF with the optional extra `pdf`; nothing is fetched."""

from __future__ import annotations

from descent.errors import Fault, OutputError


def pdf_of(html: str) -> bytes:
    """A PDF of an HTML text that stands alone. OutputError: the extra or the text-layout library is
    missing."""
    try:
        import weasyprint
    except ImportError as error:
        raise OutputError(
            Fault(
                "pdf-extra",
                "the PDF writer is not installed",
                'Install it with: pip install "descent[pdf]"',
                "--pdf",
            )
        ) from error
    except OSError as error:
        raise OutputError(
            Fault(
                "pdf-library",
                "the PDF writer needs the text-layout library Pango",
                "Install it with: sudo apt install libpango-1.0-0 libpangoft2-1.0-0",
                "--pdf",
            )
        ) from error
    written = weasyprint.HTML(string=html, url_fetcher=_nothing).write_pdf(custom_metadata=False)
    return bytes(written)


def _nothing(url: str, *_: object, **__: object) -> dict[str, object]:
    raise ValueError(f"the card is one file and fetches nothing: {url}")
