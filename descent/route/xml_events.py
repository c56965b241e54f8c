# SPDX-License-Identifier: MIT
"""Walks an XML file as a stream of elements, in bounded memory and without entities or outside references."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Protocol
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from descent.errors import RouteError
from descent.route.faultbook import one_fault

MAX_DEPTH = 60
MAX_TEXT = 4096
MAX_OTHER_ELEMENTS = 1_000_000
MAX_ELEMENTS_PER_POINT = 40


class Walker(Protocol):
    """Receives the elements of a file by local name; text is gathered only for names in `with_text`.

    points: how many points of a line were met; long_text: names whose text may be longer than `MAX_TEXT` characters.
    """

    with_text: frozenset[str]
    long_text: frozenset[str]
    points: int

    def opened(self, tag: str, attributes: Mapping[str, str]) -> None:
        """An element starts."""

    def closed(self, tag: str, text: str) -> None:
        """An element ends; `text` is what stood in it, stripped."""


class _Target:
    """The parser's target: keeps no tree, only the open element names and the text asked for."""

    def __init__(self, walker: Walker, where: str, root: str) -> None:
        self.walker, self.where, self.root = walker, where, root
        self.local: dict[str, str] = {}
        self.depth = self.elements = 0
        self.text: list[str] | None = None
        self.text_length = 0
        self.text_limit = MAX_TEXT

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = self.local.get(tag)
        if name is None:
            name = tag.rpartition("}")[2]
            if len(self.local) < 10_000:
                self.local[tag] = name
        self.depth += 1
        self.elements += 1
        if self.elements > MAX_OTHER_ELEMENTS + MAX_ELEMENTS_PER_POINT * self.walker.points:
            raise one_fault(RouteError, self.where, "xml-too-much-else",
                            "the file is full of elements that are no points of a line",
                            "Export the road or the places alone")
        if self.depth == 1 and name.lower() != self.root:
            raise one_fault(RouteError, self.where, "xml-other-kind",
                            f"the outermost element is not <{self.root}>",
                            "Check that the suffix of the file says what is in it", value=name)
        if self.depth > MAX_DEPTH:
            raise one_fault(RouteError, self.where, "xml-too-deep",
                            f"elements are nested more than {MAX_DEPTH} deep",
                            "No track needs this: export the file again from where it comes from")
        self.text = None
        if name in self.walker.with_text:
            self.text, self.text_length = [], 0
            self.text_limit = 1 << 62 if name in self.walker.long_text else MAX_TEXT
        self.walker.opened(name, attributes)

    def data(self, text: str) -> None:
        if self.text is not None and self.text_length < self.text_limit:
            self.text.append(text)
            self.text_length += len(text)

    def end(self, tag: str) -> None:
        self.depth -= 1
        text = "".join(self.text).strip() if self.text is not None else ""
        self.text = None
        self.walker.closed(self.local.get(tag) or tag.rpartition("}")[2], text)

    def close(self) -> None:
        return None


def walk(pieces: Iterable[bytes], walker: Walker, *, root: str, where: str) -> None:
    """Feed a file's bytes to `walker`; `root` is the lower-case name its outermost element must have.

    Raises RouteError: xml-forbidden (document type, entities, outside references), xml-malformed (with line and
    column), xml-other-kind, xml-too-deep, xml-too-much-else, and what the walker raises.
    """
    parser = DefusedXMLParser(target=_Target(walker, where, root), forbid_dtd=True)
    try:
        for piece in pieces:
            parser.feed(piece)
        parser.close()
    except DefusedXmlException:
        raise one_fault(RouteError, where, "xml-forbidden",
                        "the file declares a document type or entities, which can hide attacks and is never read",
                        "Remove the <!DOCTYPE ...> part or export the file again") from None
    except (ParseError, ValueError, LookupError) as error:
        line, column = getattr(error, "position", (0, 0))
        place = f"the XML breaks off or is wrong at line {line}, column {column + 1}" if line else "the XML is wrong"
        raise one_fault(RouteError, where, "xml-malformed", place,
                        "Export the file again; it may have been cut off", value=str(error).partition(":")[0]) from None


def number_in(text: str) -> float:
    """A number in an XML value; NaN when there is none."""
    try:
        return float(text)
    except ValueError:
        return float("nan")
