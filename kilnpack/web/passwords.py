"""Passwords are hashed and judged by argon2 with its library's own defaults (RFC 9106); none is kept or logged."""

from __future__ import annotations

from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from kilnpack.errors import Finding, InputFaulty

LEAST_CHARACTERS = 10
MOST_CHARACTERS = 200
"""Hashing takes the longer the more it is given; nobody types more."""


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher()


@cache
def _nobody() -> str:
    """Return a hash that is judged where a name is not known, so that both take the same time."""
    return _hasher().hash("nobody has this password")


def hashed(password: str) -> str:
    """Return what is kept of a password.

    Raises
    ------
    InputFaulty
        It is too short or too long.
    """
    if not LEAST_CHARACTERS <= len(password) <= MOST_CHARACTERS:
        wanted = f"{LEAST_CHARACTERS} to {MOST_CHARACTERS} characters"
        found = f"{len(password)} characters"
        raise InputFaulty([Finding(file="sign-in", row=None, field="password", found=found, wanted=wanted)])
    return _hasher().hash(password)


def is_right(kept: str | None, password: str) -> bool:
    """Return whether a password is the one that was hashed; None where the name is not known."""
    if len(password) > MOST_CHARACTERS:
        return False
    try:
        _hasher().verify(_nobody() if kept is None else kept, password)
    except (VerificationError, InvalidHashError):
        return False
    return kept is not None
