"""What stands before every page: headers, a limit on what is sent, and the token that every form carries."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Any

from fastapi import HTTPException, Request

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_SENT_BYTES = 20_000_000
"""Longest body taken: a workbook of a large backlog has about a tenth of it."""
TOKEN = "form_token"
TOKEN_HEADER = "x-form-token"
READING = frozenset({"GET", "HEAD", "OPTIONS"})

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


class TooLong(Exception):
    """More was sent than is taken."""


class Guard:
    """ASGI layer: puts the headers on every answer and ends a body that is too long."""

    def __init__(self, app: ASGIApp, *, most_bytes: int = MOST_SENT_BYTES) -> None:
        self.app = app
        self.most_bytes = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if _said_length(scope) > self.most_bytes:
            await self._refuse(send, scope["path"])
            return
        taken, refused = 0, False

        async def counted() -> Message:
            """Receive a body no longer than allowed, whatever length was announced."""
            nonlocal taken, refused
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self.most_bytes:
                refused = True
                raise TooLong
            return message

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                status = 413 if refused else message["status"]
                message = {**message, "status": status, "headers": _with_headers(message["headers"], scope["path"])}
            await send(message)

        # Whoever reads the body turns the fault into an answer of its own, which is given the right status.
        await self.app(scope, counted, headed)

    async def _refuse(self, send: Send, path: str) -> None:
        headers = _with_headers([(b"content-type", b"text/plain; charset=utf-8")], path)
        await send({"type": "http.response.start", "status": 413, "headers": headers})
        text = f"More was sent than is taken; at most {self.most_bytes / 1e6:g} MB."
        await send({"type": "http.response.body", "body": text.encode()})


def _with_headers(sent: list[tuple[bytes, bytes]], path: str) -> list[tuple[bytes, bytes]]:
    """Return the headers with ours put in where none of the name is there; pages are never kept by a shared cache."""
    known = {name.lower() for name, _ in sent}
    ours = dict(HEADERS)
    if not path.startswith("/static/"):
        ours["cache-control"] = "private, no-store"
    return [*sent, *((name.encode(), text.encode()) for name, text in ours.items() if name.encode() not in known)]


def _said_length(scope: Scope) -> int:
    said = dict(scope["headers"]).get(b"content-length", b"0")
    return int(said) if said.isdigit() else 0


def form_token(session: dict[str, Any]) -> str:
    """Return the token that every form carries from sign-in to sign-out."""
    return str(session.setdefault(TOKEN, secrets.token_urlsafe(24)))


async def same_form(request: Request) -> None:
    """Refuse a request that changes something and does not carry the token of its session.

    Raises
    ------
    HTTPException
        403: the form comes from elsewhere, or the session has ended.
    """
    if request.method in READING:
        return
    given: object = request.headers.get(TOKEN_HEADER)
    kind = request.headers.get("content-type", "")
    if given is None and kind.startswith(("application/x-www-form-urlencoded", "multipart/form-data")):
        given = (await request.form()).get(TOKEN)
    wanted = request.session.get(TOKEN)
    if not isinstance(given, str) or not wanted or not secrets.compare_digest(given.encode(), str(wanted).encode()):
        raise HTTPException(403, "This form is no longer good: open the page again, then send it once more.")
