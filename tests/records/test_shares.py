"""Guards shares learnt from counts against published limits, closed forms and the library of statistics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from kilnpack.records.shares import Count, beta_limits, design_effect, learnt_share, within_firings


@pytest.mark.source("nist-handbook", "section 7.2.4.1, 4 defective of 20: 0.071354 to 0.401029")
def test_limits_of_a_proportion() -> None:
    """The exact two-sided 90 % limits of 4 in 20 are quantiles of beta(4, 17) and beta(5, 16)."""
    assert beta_limits(4, 17, 0.9)[0] == pytest.approx(0.071354, abs=1e-6)
    assert beta_limits(5, 16, 0.9)[1] == pytest.approx(0.401029, abs=1.5e-6)


@pytest.mark.parametrize("a", [0.5, 1.0, 3.5, 400.0])
@pytest.mark.parametrize("b", [0.5, 1.0, 39.5, 9000.0])
def test_limits_agree_with_the_library(a: float, b: float) -> None:
    """Scipy's beta quantiles, for shares from nearly none to nearly all."""
    low, high = beta.ppf([0.05, 0.95], a, b)
    assert beta_limits(a, b, 0.9) == pytest.approx((low, high), rel=2e-4, abs=1e-9)


def test_limits_in_closed_form() -> None:
    """beta(1, b) has the quantile 1 - (1 - p)^(1/b)."""
    assert beta_limits(1.0, 7.0, 0.9) == pytest.approx((1 - 0.95 ** (1 / 7), 1 - 0.05 ** (1 / 7)), rel=1e-4)


@pytest.mark.source("ridout-1999", "analysis-of-variance estimator")
def test_the_correlation_within_firings_by_hand() -> None:
    """Three firings of 4 with 4, 0 and 2 hit: MSB = (4*0.25 + 4*0.25 + 0)/2 = 1, MSW = (0 + 0 + 1)/9, m = 4.

    rho = (1 - 1/9) / (1 + 3/9) = 2/3.
    """
    counts = [Count(pieces=4, hit=hit) for hit in (4, 0, 2)]
    assert within_firings(counts) == pytest.approx(2 / 3)
    assert design_effect(counts) == pytest.approx(1 + 3 * 2 / 3)


def test_firings_that_fail_as_a_whole_tell_little() -> None:
    """Each firing all good or all lost: ten pieces of one firing tell as much as one."""
    counts = [Count(pieces=10, hit=hit) for hit in (10, 0, 10, 0)]
    assert design_effect(counts) == pytest.approx(10.0)
    assert learnt_share(counts, 0.5).worth_pieces == pytest.approx(4.0)


def test_few_firings_take_the_usual_correlation() -> None:
    """One firing of 21 pieces: 1 + 20 * 0.05 = 2 pieces count as one; single pieces and nothing count in full."""
    assert design_effect([Count(pieces=21, hit=1)]) == pytest.approx(2.0)
    assert design_effect([Count(pieces=1, hit=1)]) == 1.0
    assert design_effect([]) == 1.0


def test_without_a_piece_the_guess_stands() -> None:
    """Nothing seen: the share is the works' own guess, with a wide range."""
    share = learnt_share([Count(pieces=0, hit=0)], 0.08)
    assert (share.firings, share.pieces, share.seen_share) == (0, 0, None)
    assert share.share == pytest.approx(0.08)
    assert share.high_share - share.low_share > 0.1


@given(hits=st.lists(st.integers(0, 30), min_size=1, max_size=8), guess=st.floats(0.0, 0.5), more=st.integers(2, 6))
def test_more_firings_of_the_same_kind_narrow_the_range(hits: list[int], guess: float, more: int) -> None:
    """The share lies between guess and quotient, inside its range; the same firings again bring it nearer to both."""
    counts = [Count(pieces=30, hit=hit) for hit in hits]
    once, often = learnt_share(counts, guess), learnt_share(counts * more, guess)
    bare = sum(hits) / (30 * len(hits))
    for share in (once, often):
        assert share.seen_share == pytest.approx(bare)
        assert 0.0 <= share.low_share <= share.share <= share.high_share <= 1.0
        # Half a piece at each end keeps nothing from being certain.
        assert min(guess, bare) - 0.02 <= share.share <= max(guess, bare) + 0.02
    assert often.pieces == more * once.pieces
    if len(hits) >= 3:
        assert often.worth_pieces >= once.worth_pieces


@pytest.mark.parametrize(
    ("share", "rho", "firings", "pieces", "guess", "least"),
    [(0.08, 0.05, 10, 40, 0.08, 0.82), (0.03, 0.0, 10, 40, 0.05, 0.86), (0.3, 0.1, 6, 20, 0.1, 0.55)],
)
def test_how_often_the_range_covers(
    share: float, rho: float, firings: int, pieces: int, guess: float, least: float
) -> None:
    """Of 100 drawn works the range covers most; where the guess is a third of the truth, fewer after six firings."""
    draws = np.random.default_rng(1)
    spread = 1.0 / rho - 1.0 if rho else 0.0
    covered = 0
    for _ in range(100):
        of_firing = draws.beta(share * spread, (1.0 - share) * spread, firings) if rho else np.full(firings, share)
        hits = draws.binomial(pieces, of_firing)
        found = learnt_share([Count(pieces=pieces, hit=int(hit)) for hit in hits], guess)
        covered += found.low_share <= share <= found.high_share
    assert covered / 100 >= least


def test_a_guess_far_off_is_given_up() -> None:
    """30 % seen over six firings against a guess of 10 %: the share leaves the guess, further than trust lets it."""
    found = learnt_share([Count(pieces=20, hit=hit) for hit in (5, 6, 7, 5, 7, 6)], 0.1)
    trusting = (40 * 0.1 + 36) / (40 + 120)
    assert found.worth_pieces == pytest.approx(120)
    assert trusting + 0.015 < found.share < 0.3
