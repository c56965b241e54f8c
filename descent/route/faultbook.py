# SPDX-License-Identifier: MIT
"""Collects the faults of one input so that a person sees all of them at once."""

from __future__ import annotations

from descent.errors import Fault, InputError
from descent.route.text import clean_text

MAX_SHOWN = 20


class FaultBook:
    """Faults of one input, in the order found; the first `MAX_SHOWN` are kept, the rest counted."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.faults: list[Fault] = []
        self.more = 0

    def add(self, code: str, what: str, remedy: str, *, place: str = "", value: object = "") -> None:
        """Write one fault down; `place` is where in the input, `value` what was seen there."""
        if len(self.faults) >= MAX_SHOWN:
            self.more += 1
            return
        where = f"{self.where}, {place}" if place else self.where
        self.faults.append(Fault(code, what, remedy, where, clean_text(value, limit=80)))

    def take(self, other: FaultBook | None) -> None:
        """Write down the faults another book holds."""
        self.more += other.more if other else 0
        for fault in other.faults if other else ():
            if len(self.faults) < MAX_SHOWN:
                self.faults.append(fault)
            else:
                self.more += 1

    @property
    def count(self) -> int:
        """How many faults were found, kept or not."""
        return len(self.faults) + self.more

    def __bool__(self) -> bool:
        return bool(self.faults)

    def error(self, kind: type[InputError]) -> InputError:
        """The collected faults as one error of `kind`."""
        rest = () if not self.more else (Fault(
            "more-faults", f"{self.more} more faults of this input are not listed",
            "Put the ones above right first", self.where),)
        return kind(*self.faults, *rest)

    def raise_if_any(self, kind: type[InputError]) -> None:
        """Raise `kind` with all faults when there are any."""
        if self.faults:
            raise self.error(kind)


def one_fault(kind: type[InputError], where: str, code: str, what: str, remedy: str, *,
              value: object = "") -> InputError:
    """An error of `kind` with a single fault."""
    return kind(Fault(code, what, remedy, where, clean_text(value, limit=80)))
