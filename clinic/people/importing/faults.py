"""What can be wrong with a file, a row or a cell: a code, what is wrong, and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence


class Fault(ValueError):
    """One thing wrong. `field` is the field's code, empty when the whole row is meant."""

    def __init__(self, code: str, wrong: str, mend: str, field: str = "") -> None:
        super().__init__(wrong)
        self.code = code
        self.wrong = wrong
        self.mend = mend
        self.field = field


class RowFaults(Exception):
    """Several things wrong with one row; none of it is saved."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__(", ".join(fault.code for fault in faults))
        self.faults = tuple(faults)


class Unreadable(Exception):
    """A file that cannot be read at all: `code`, and a sentence for a person."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
