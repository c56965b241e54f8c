# SPDX-License-Identifier: MIT
"""The files of a trip, all or none: trip.html, plan.json, profile.csv, plan.geojson, stops.gpx, card.pdf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from descent.report.contour_lines import ContourLine
from descent.report.exchange import plan_geojson, profile_csv, stops_gpx
from descent.report.html import render_card, render_trip
from descent.report.plan_json import plan_json, stable_document
from descent.report.tiles import TileSource
from descent.report.trip import Hillshade
from descent.report.words import Words
from descent.report.writing import write_files

__all__ = ["CARD_PDF", "export_trip", "export_trip_with_pdf", "trip_files", "write_files"]

CARD_PDF = "card.pdf"


def export_trip(
    document: Mapping[str, Any],
    *,
    out: Path,
    hillshade: Hillshade | None,
    words: Words,
    date: str = "",
    contours: Sequence[ContourLine] = (),
    tiles: TileSource | None = None,
) -> tuple[Path, ...]:
    """Write the trip's files into `out` (made if missing) and return their paths, in a fixed order.

    Everything is rendered before the first byte is written; see `writing.write_files`. A card from an earlier
    plan is removed, so that no old card lies beside a new answer. OutputError: the folder cannot be used.
    """
    files = trip_files(
        document, hillshade=hillshade, words=words, date=date, contours=contours, tiles=tiles
    )
    return write_files(files, out=out, obsolete=(CARD_PDF,))


def export_trip_with_pdf(
    document: Mapping[str, Any],
    *,
    out: Path,
    hillshade: Hillshade | None,
    words: Words,
    date: str = "",
    contours: Sequence[ContourLine] = (),
    tiles: TileSource | None = None,
) -> tuple[Path, ...]:
    """As `export_trip`, with the card as a PDF where there is a card. OutputError: the PDF writer is
    missing."""
    from descent.report.pdf import pdf_of

    files = trip_files(
        document, hillshade=hillshade, words=words, date=date, contours=contours, tiles=tiles
    )
    card = render_card(stable_document(document), words=words, date=date)
    if card is not None:
        files[CARD_PDF] = pdf_of(card)
    return write_files(files, out=out, obsolete=() if card is not None else (CARD_PDF,))


def trip_files(
    document: Mapping[str, Any],
    *,
    hillshade: Hillshade | None,
    words: Words,
    date: str = "",
    contours: Sequence[ContourLine] = (),
    tiles: TileSource | None = None,
) -> dict[str, bytes]:
    """Every file's bytes by name, rendered from the document as plan.json holds it."""
    stable = stable_document(document)
    texts = {
        "trip.html": render_trip(
            stable, hillshade=hillshade, words=words, date=date, contours=contours, tiles=tiles
        ),
        "plan.json": plan_json(stable),
        "profile.csv": profile_csv(stable),
        "plan.geojson": plan_geojson(stable),
        "stops.gpx": stops_gpx(stable, words=words),
    }
    return {name: text.encode("utf-8") for name, text in texts.items()}
