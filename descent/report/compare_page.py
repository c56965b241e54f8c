# SPDX-License-Identifier: MIT
"""compare.html, compare.csv and the terminal's lines of a comparison, from its document."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from markupsafe import Markup

from descent.report.compare_labels import case_labels, shared_words
from descent.report.compare_pictures import pictures, scale_words
from descent.report.compare_tables import cases_table, heaviest_table
from descent.report.page_shell import content_policy, environment, static_text
from descent.report.phrases import source_text
from descent.report.plan_json import plan_json, stable_document
from descent.report.sentences import plan_words
from descent.report.shown import Shown, shown_for
from descent.report.words import Words, load_words, words_of
from descent.report.writing import write_files

_CSV = ("number", "unit", "route", "vehicle", "gross_kg", "retarder_out", "condition", "air_temp_c", "road", "feasible",
        "verdict_reason", "time_s", "cool_down_stops", "cool_down_minutes", "peak_brake_temp_c", "peak_axle", "margin_c",
        "probability_over_limit", "upper_95", "longest_stop_m", "longest_stop_at_m")


def compare_words(language: str) -> Words:
    """The wording of `compare_words_<language>.toml`."""
    return words_of(language, "compare_words")


def export_comparison(document: Mapping[str, Any], *, out: Path, language: str = "en") -> tuple[Path, ...]:
    """Write compare.html, compare.json and compare.csv into `out`, all or none. OutputError: it cannot be used."""
    stable = stable_document(document)
    files = {"compare.html": render_comparison(stable, language=language), "compare.json": plan_json(stable),
             "compare.csv": comparison_csv(stable)}
    return write_files({name: text.encode("utf-8") for name, text in files.items()}, out=out)


def render_comparison(document: Mapping[str, Any], *, language: str = "en") -> str:
    """The page of a comparison: the answer, the table, small pictures on one scale, the most weight. No scripts."""
    words, shown = compare_words(language), shown_for(str(document["units"]), load_words(language))
    labels = case_labels(document["cases"], shown, words)
    bare = case_labels(document["cases"], shown, words, without=frozenset({"gross"}))
    weights = heaviest_table(document, bare, shown, words)
    return environment().get_template("compare.html.jinja").render(
        w=words, page=shown.words, csp=content_policy(()), title=_title(document, words), paper="A4" if document["units"] == "metric" else "letter",
        styles=Markup(static_text("base.css") + static_text("page.css") + static_text("compare.css") + static_text("print.css")),
        shared=shared_words(document["cases"], shown, words), answer=_answer(document, labels, shown, words),
        holds=any(row["feasible"] for row in document["cases"]), cases=cases_table(document, labels, shown, words),
        pictures=pictures(document, labels, shown, words), scale=scale_words(document, shown, words),
        weights=weights if weights.rows else None, warnings=_warnings(document, words),
        assumptions=_shared_assumptions(document, words), cautions=[str(one) for one in document["cautions"]],
        sources=[source_text(one, shown) for one in document["sources"]], sign=lambda kind: "")


def _title(document: Mapping[str, Any], words: Words) -> str:
    names = list(dict.fromkeys(str(row["route"]) for row in document["cases"]))
    return names[0] if len(names) == 1 else words("page.title_routes", count=len(names))


def _answer(document: Mapping[str, Any], labels: Sequence[str], shown: Shown, words: Words) -> tuple[str, list[str]]:
    """The answer as a headline and sentences."""
    rows = document["cases"]
    named = list(zip(rows, labels, strict=True))
    holding = [(row, label) for row, label in named if row["feasible"]]
    if not holding:
        return words("answer.none"), [words("answer.none_sentence", count=len(rows))]
    key = "one" if len(rows) == 1 else "all" if len(holding) == len(rows) else "some"
    said = [words("answer.quickest", label=label, time=shown.minutes(row["time_s"]))
            for row, label in holding if row["number"] == document["quickest"]]
    free = [label for row, label in holding if not row["cool_down_stops"]]
    said.append(words("answer.no_stop", labels="; ".join(free)) if free else words("answer.no_stop_none"))
    refused = [label for row, label in named if not row["feasible"]]
    if refused:
        said.append(words("answer.not", labels="; ".join(refused)))
    return words(f"answer.{key}", count=len(rows), holding=len(holding)), said


def _warnings(document: Mapping[str, Any], words: Words) -> list[str]:
    """The warnings of all cases, each once with the cases it is for."""
    found: dict[str, list[int]] = {}
    for row in document["cases"]:
        for text in row.get("warnings") or ():
            found.setdefault(str(text), []).append(row["number"])
    everywhere = len(document["cases"])
    return [words("warning.all" if len(numbers) == everywhere else "warning.one" if len(numbers) == 1 else "warning.some",
                  text=text, numbers=", ".join(map(str, numbers))) for text, numbers in found.items()]


def _shared_assumptions(document: Mapping[str, Any], words: Words) -> list[str]:
    """What all cases assume, but for the long lists of vehicle and air supply."""
    lists = tuple(plan_words(words.language).table[f"assumption.{one}"].partition("{")[0] for one in ("vehicle", "air_supply"))
    found = [str(one) for one in document["assumptions"] if not str(one).startswith(lists)]
    return [*found, words("page.vehicle_note")]


def comparison_csv(document: Mapping[str, Any]) -> str:
    """One line per case, SI, the unit in each column's name; empty where there is nothing."""
    text = io.StringIO()
    writer = csv.DictWriter(text, (*_CSV, "heaviest_no_cool_down_kg", "heaviest_any_stop_kg", "tonne_more_s"),
                            extrasaction="ignore", lineterminator="\n", restval="")
    writer.writeheader()
    for row in document["cases"]:
        most, tonne = row.get("heaviest") or {}, row.get("tonne_more") or {}
        writer.writerow({key: _safe(value) for key, value in row.items()} | {
            "heaviest_no_cool_down_kg": most.get("no_cool_down_kg"), "heaviest_any_stop_kg": most.get("any_stop_kg"),
            "tonne_more_s": tonne.get("change_s")})
    return text.getvalue()


def _safe(value: Any) -> Any:
    """A text that a spreadsheet will not take for a formula."""
    return "'" + value if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t") else value


def comparison_text(document: Mapping[str, Any], *, language: str = "en", width: int = 88) -> str:
    """The answer and an aligned line per case for a terminal."""
    words, shown = compare_words(language), shown_for(str(document["units"]), load_words(language))
    rows = document["cases"]
    labels = case_labels(rows, shown, words)
    headline, said = _answer(document, labels, shown, words)
    shared = shared_words(rows, shown, words)
    lines = [": ".join(part for part in (_title(document, words), shared) if part), "",
             *textwrap.wrap(f"{headline.upper()}. {' '.join(said)}", width), "", *_lines(document, labels, shown, words)]
    bare = case_labels(rows, shown, words, without=frozenset({"gross"}))
    weights = [words("terminal.most", label=row[0].text, no_stop=row[1].text, any_stop=row[2].text, per_tonne=row[3].text)
               for row in heaviest_table(document, bare, shown, words).rows]
    lines += [""] if weights else []
    for text in weights:
        lines += textwrap.wrap(text, width, subsequent_indent="  ")
    return "\n".join(lines).replace("\u00a0", " ") + "\n"


def _lines(document: Mapping[str, Any], labels: Sequence[str], shown: Shown, words: Words) -> list[str]:
    """Answer, time, cooling, hottest brake, what is left to the limit and the chance, aligned, the case last."""
    table = cases_table(document, labels, shown, words)
    short = {words("table.compare.margin"): words("terminal.margin"), words("table.compare.chance"): words("terminal.chance")}
    wanted = [words(f"table.compare.{key}") for key in ("verdict", "time", "stops", "hottest", "margin", "chance")]
    columns = [index for index, head in enumerate(table.heads) if head in wanted]
    cells = [[*(short.get(table.heads[i], table.heads[i]) for i in columns), table.heads[0]],
             *([*(row[i].text for i in columns), row[0].text] for row in table.rows)]
    widths = [max(len(line[column]) for line in cells) for column in range(len(columns))]
    return ["  ".join([*(text.ljust(size) for text, size in zip(line, widths, strict=False)), line[-1]]).rstrip()
            for line in cells]
