# SPDX-License-Identifier: MIT
"""The card as a PDF: one page, the same bytes each time, one clear sentence where the writer is missing."""

from __future__ import annotations

import builtins
import sys
from typing import Any

import pytest

from descent.errors import OutputError
from descent.report.html import render_card
from descent.report.pdf import pdf_of
from descent.report.words import Words

weasyprint = pytest.importorskip(
    "weasyprint",
    reason='the PDF writer is not installed: pip install "descent[pdf]"',
    exc_type=(ImportError, OSError),
)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_one_page(document: dict[str, Any], words: Words) -> None:
    card = render_card(document, words=words)
    assert card is not None
    assert len(weasyprint.HTML(string=card).render().pages) == 1
    first = pdf_of(card)
    assert first.startswith(b"%PDF-") and pdf_of(card) == first


@pytest.mark.parametrize(
    ("error", "remedy"), [(ImportError("no"), "pip install"), (OSError("no pango"), "sudo apt install")]
)
def test_missing_writer(error: Exception, remedy: str, monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def broken(name: str, *rest: Any, **more: Any) -> Any:
        if name == "weasyprint":
            raise error
        return real(name, *rest, **more)

    monkeypatch.delitem(sys.modules, "weasyprint")
    monkeypatch.setattr(builtins, "__import__", broken)
    with pytest.raises(OutputError, match=remedy):
        pdf_of("<p>")
