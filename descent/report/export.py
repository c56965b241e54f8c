# SPDX-License-Identifier: MIT
"""The files of a trip, all or none: trip.html, plan.json, profile.csv, plan.geojson, stops.gpx, card.pdf."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from descent.errors import Fault, OutputError
from descent.report.exchange import plan_geojson, profile_csv, stops_gpx
from descent.report.html import render_card, render_trip
from descent.report.plan_json import plan_json, stable_document
from descent.report.trip import Hillshade
from descent.report.words import Words

CARD_PDF = "card.pdf"


def export_trip(
    document: Mapping[str, Any], *, out: Path, hillshade: Hillshade | None, words: Words, date: str = ""
) -> tuple[Path, ...]:
    """Write the trip's files into `out` (made if missing) and return their paths, in a fixed order.

    Everything is rendered before the first byte is written, written beside its place, then renamed. A card
    from an earlier plan is removed, so that no old card lies beside a new answer. OutputError: the folder
    cannot be used.
    """
    return write_files(trip_files(document, hillshade=hillshade, words=words, date=date), out=out)


def export_trip_with_pdf(
    document: Mapping[str, Any], *, out: Path, hillshade: Hillshade | None, words: Words, date: str = ""
) -> tuple[Path, ...]:
    """As `export_trip`, with the card as a PDF where there is a card. OutputError: the PDF writer is
    missing."""
    from descent.report.pdf import pdf_of

    files = trip_files(document, hillshade=hillshade, words=words, date=date)
    card = render_card(stable_document(document), words=words, date=date)
    if card is not None:
        files[CARD_PDF] = pdf_of(card)
    return write_files(files, out=out)


def trip_files(
    document: Mapping[str, Any], *, hillshade: Hillshade | None, words: Words, date: str = ""
) -> dict[str, bytes]:
    """Every file's bytes by name, rendered from the document as plan.json holds it."""
    stable = stable_document(document)
    texts = {
        "trip.html": render_trip(stable, hillshade=hillshade, words=words, date=date),
        "plan.json": plan_json(stable),
        "profile.csv": profile_csv(stable),
        "plan.geojson": plan_geojson(stable),
        "stops.gpx": stops_gpx(stable, words=words),
    }
    return {name: text.encode("utf-8") for name, text in texts.items()}


def write_files(files: Mapping[str, bytes], *, out: Path) -> tuple[Path, ...]:
    """Write all files or none: temporary files in the folder first, then one rename each."""
    waiting: list[tuple[Path, Path]] = []
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            temporary = out / f".{name}.{secrets.token_hex(4)}.part"
            waiting.append((temporary, out / name))
            with temporary.open("xb") as handle:
                handle.write(content)
                handle.flush()
                os.fsync(handle.fileno())
        for temporary, final in waiting:
            os.replace(temporary, final)
        if CARD_PDF not in files:
            (out / CARD_PDF).unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(
            Fault(
                "output-folder",
                f"the files cannot be written here: {error.strerror or error}",
                "Choose a folder that can be written with --out",
                str(out),
            )
        ) from error
    finally:
        for temporary, _ in waiting:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
    return tuple(final for _, final in waiting)
