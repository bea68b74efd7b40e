"""How large a share is, learnt from counts: what was guessed before weighs like a number of pieces.

Pieces of one firing share its fate, so twenty firings of forty tell more than one of eight hundred. How much they
share it is measured by the analysis-of-variance estimator of the correlation within firings; a count is then worth
n / (1 + (m - 1) rho) independent pieces, m being the usual number in a firing.

A guess that is far off would hold the share back for many firings. So there are two beta distributions, one that
trusts the guess and one that hardly does; the counts decide between them by how well each foretold them.

References
----------
`ridout-1999` the estimator; `nist-handbook` limits of a share from the beta distribution.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, lgamma
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

PRIOR_PIECES = 40.0
"""Pieces that the works' own guess weighs as much as (own proposal): about one firing of a product."""
DOUBT = 0.1
"""Probability that the guess is worth hardly anything (own proposal)."""
DOUBTED_PIECES = 10.0
"""The most that it then weighs as much as: it is made so that half a piece was hit, or half a piece was not."""
USUAL_RHO = 0.05
"""Correlation taken while fewer than three firings were seen (own proposal)."""
FIRINGS_FOR_RHO = 3
COVERED = 0.9
"""Probability that the range covers."""
_GRID = 50_001


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """So many pieces of one firing, of which so many were hit."""

    pieces: int
    hit: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share learnt from counts.

    `seen_share` is the bare quotient, None without a piece. `share` weighs it with what was guessed before, and `low`
    to `high` covers it in nine cases of ten. `worth_pieces` is what the counts are worth in independent pieces.
    """

    firings: int
    pieces: int
    hit: int
    seen_share: float | None
    guessed_share: float
    share: float
    low_share: float
    high_share: float
    worth_pieces: float


def learnt_share(counts: Sequence[Count], guessed_share: float) -> Share:
    """Return a share from the counts of firings and the works' own guess.

    Parameters
    ----------
    counts
        One for each firing.
    guessed_share
        What the works reckons with now.
    """
    seen = [count for count in counts if count.pieces > 0]
    pieces, hit = sum(count.pieces for count in seen), sum(count.hit for count in seen)
    worth = pieces / design_effect(seen) if pieces else 0.0
    bare = hit / pieces if pieces else None
    hits, rest = worth * (bare or 0.0), worth * (1.0 - (bare or 0.0))
    parts = [_part(guessed_share, weight, hits, rest) for weight in (PRIOR_PIECES, _doubted(guessed_share))]
    odds = np.exp(np.array([part.log_evidence for part in parts]) - max(part.log_evidence for part in parts))
    odds *= (1.0 - DOUBT, DOUBT)
    odds /= odds.sum()
    share = fsum(odd * part.a / (part.a + part.b) for odd, part in zip(odds, parts, strict=True))
    low, high = mixed_limits([(float(odd), part.a, part.b) for odd, part in zip(odds, parts, strict=True)], COVERED)
    return Share(
        firings=len(seen), pieces=pieces, hit=hit, seen_share=bare, guessed_share=guessed_share, share=share,
        low_share=low, high_share=high, worth_pieces=worth,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A beta distribution after the counts, and how well its guess foretold them."""

    a: float
    b: float
    log_evidence: float


def _doubted(guessed_share: float) -> float:
    rarer = max(min(guessed_share, 1.0 - guessed_share), 0.5 / DOUBTED_PIECES)
    return 0.5 / rarer


def _part(guessed_share: float, weight: float, hits: float, rest: float) -> _Part:
    # Half a piece at each end keeps a guess of nothing from being taken for certain.
    a, b = max(weight * guessed_share, 0.5), max(weight * (1.0 - guessed_share), 0.5)
    return _Part(a=a + hits, b=b + rest, log_evidence=_log_beta(a + hits, b + rest) - _log_beta(a, b))


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


def design_effect(counts: Sequence[Count]) -> float:
    """Return how many pieces tell as much as one independent piece; 1 where firings do not differ."""
    total = sum(count.pieces for count in counts)
    if not counts or total == len(counts):
        return 1.0
    usual = fsum(count.pieces**2 for count in counts) / total
    rho = within_firings(counts) if len(counts) >= FIRINGS_FOR_RHO else USUAL_RHO
    return 1.0 + (usual - 1.0) * rho


def within_firings(counts: Sequence[Count]) -> float:
    """Return the correlation of pieces of one firing by analysis of variance, at least 0.

    Parameters
    ----------
    counts
        At least two firings, with more than one piece in one of them.
    """
    firings, total = len(counts), sum(count.pieces for count in counts)
    share = sum(count.hit for count in counts) / total
    between = fsum(count.pieces * (count.hit / count.pieces - share) ** 2 for count in counts) / (firings - 1)
    inside = fsum(count.hit * (1.0 - count.hit / count.pieces) for count in counts) / (total - firings)
    usual = (total - fsum(count.pieces**2 for count in counts) / total) / (firings - 1)
    spread = between + (usual - 1.0) * inside
    return max(0.0, (between - inside) / spread) if spread > 0.0 else 0.0


def beta_limits(a: float, b: float, covered: float) -> tuple[float, float]:
    """Return the limits between which a beta-distributed share lies with a probability, the rest split evenly."""
    return mixed_limits([(1.0, a, b)], covered)


def mixed_limits(parts: Sequence[tuple[float, float, float]], covered: float) -> tuple[float, float]:
    """Return the limits of a share that is beta-distributed in one of several ways: (probability, a, b) of each.

    The density is added up over the logit of the share, where it is smooth for any `a` and `b` above 0.
    """
    least_a, least_b = min(a for _, a, _ in parts), min(b for _, _, b in parts)
    # The tails of the logit fall like exp(-a |x|) and exp(-b |x|); 40 / a leaves less than 1e-17 of them.
    x = np.linspace(-40.0 / min(least_a, 1.0) - 10.0, 40.0 / min(least_b, 1.0) + 10.0, _GRID)
    log_share, log_rest = -np.logaddexp(0.0, -x), -np.logaddexp(0.0, x)
    density = np.zeros_like(x)
    for odd, a, b in parts:
        density += odd * np.exp(a * log_share + b * log_rest - _log_beta(a, b))
    below = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)]) * (x[1] - x[0])
    below /= below[-1]
    ends = np.interp([(1.0 - covered) / 2.0, (1.0 + covered) / 2.0], below, x)
    low, high = 1.0 / (1.0 + np.exp(-ends))
    return float(low), float(high)
