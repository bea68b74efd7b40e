"""Least squares with a prior for a few factors whose logarithms are sought.

Readings y are foretold by p(t) = sum over parts of value x product of factors. The sum of squared relative errors over
the square of the noise, and of squared logarithms over the square of their prior, is made least by Gauss-Newton. The
noise starts from what meters and masses are usually known to, and is learnt from the readings as they come in.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from kilnpack.heat.materials import Floats

NOISE_SHARE = 0.03
"""What a meter reading differs by when the factors are right: meter, masses, start of the kiln (own proposal)."""
NOISE_READINGS = 4.0
"""How many readings that belief weighs."""
ROUNDS = 30
NOISE_ROUNDS = 4
STEP = 1e-6
STILL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogFit:
    """Logarithms of the factors, their covariance, the noise, and what the readings still differ by (shares)."""

    logs: Floats
    covariance: Floats
    noise_share: float
    errors: Floats

    @property
    def deviations(self) -> Floats:
        """Standard deviation of each logarithm."""
        found: Floats = np.sqrt(np.diag(self.covariance))
        return found

    def correlation(self, one: int, other: int) -> float:
        """Return how two logarithms hang together, -1 to 1."""
        deviations = self.deviations
        return float(self.covariance[one, other] / (deviations[one] * deviations[other]))


def fit_logs(foretold: Callable[[Floats], Floats], metered: Floats, priors: Floats, *, step: float = STEP) -> LogFit:
    """Fit logarithms of factors to readings.

    Parameters
    ----------
    foretold
        Readings (n,) from logarithms (k,).
    metered
        Readings, shape (n,), each over 0.
    priors
        Standard deviation of each logarithm before any reading, shape (k,); its mean is 0.
    step
        Step of the logarithms by which slopes are taken; wider where `foretold` is not smooth.
    """
    logs = np.zeros(len(priors))
    noise = NOISE_SHARE
    for _ in range(NOISE_ROUNDS):
        # Begun at the usual noise, so that readings far from the model are followed and not taken for noise.
        logs = _best(foretold, logs, metered, priors, noise, step)
        noise = _noise(foretold(logs) / metered - 1.0)
    slopes = _slopes(foretold, logs, metered, step)
    return LogFit(
        logs=logs,
        covariance=np.asarray(np.linalg.inv(slopes.T @ slopes / noise**2 + np.diag(priors**-2.0)), dtype=np.float64),
        noise_share=noise,
        errors=foretold(logs) / metered - 1.0,
    )


def _best(
    foretold: Callable[[Floats], Floats], logs: Floats, metered: Floats, priors: Floats, noise: float, step: float
) -> Floats:
    """Return the logarithms of least squares at a given noise, by Gauss-Newton."""
    for _ in range(ROUNDS):
        errors = foretold(logs) / metered - 1.0
        slopes = _slopes(foretold, logs, metered, step)
        curvature = slopes.T @ slopes / noise**2 + np.diag(priors**-2.0)
        move = -np.linalg.solve(curvature, slopes.T @ errors / noise**2 + logs / priors**2)
        logs = logs + np.clip(move, -1.0, 1.0)
        if np.abs(move).max() < STILL:
            break
    return logs


def _noise(errors: Floats) -> float:
    """Return the noise that the errors and the belief of what it is speak for together."""
    squares = NOISE_READINGS * NOISE_SHARE**2 + float(errors @ errors)
    return float(np.sqrt(squares / (NOISE_READINGS + len(errors))))


def _slopes(foretold: Callable[[Floats], Floats], logs: Floats, metered: Floats, step: float) -> Floats:
    columns = [
        (foretold(logs + step * direction) - foretold(logs - step * direction)) / (2.0 * step * metered)
        for direction in np.eye(len(logs))
    ]
    return np.column_stack(columns)


def rms(values: Iterable[float]) -> float:
    """Return the root of the mean square of one value or more."""
    rows = list(values)
    return sqrt(fsum(value * value for value in rows) / len(rows))
