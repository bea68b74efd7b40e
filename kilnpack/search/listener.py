"""Progress of a search, told to whoever listens; a listener may ask it to stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Where a search stands.

    Attributes
    ----------
    step
        What is being done, in a few words.
    value
        Worth of the best so far.
    share
        Part of the budget that is spent, 0 to 1.
    elapsed_s
        Seconds since the search began.
    said
        What the best so far reaches, in words, where a number does not tell.
    linear_value
        Worth of a programme in fractions over all that was found so far, where one was solved.
    """

    step: str
    value: float
    share: float
    elapsed_s: float
    said: str = ""
    linear_value: float | None = None


class Listener(Protocol):
    """Hears of progress."""

    def heard(self, progress: Progress) -> bool:
        """Take note; return False to end the search with the best so far."""


class Silent:
    """Listens and says nothing."""

    def heard(self, progress: Progress) -> bool:
        """Let the search go on."""
        del progress
        return True
