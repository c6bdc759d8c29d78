"""The door of the server: who may ask, from where, how much at once, and what a page may do in the browser.

The program listens on this computer only, unless told otherwise. Any web page open in the browser could still
send requests here; so the host must be one of ours (a foreign name pointed at this address is turned away), a
request that changes something must come from our own pages, and pages load nothing from elsewhere.
"""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 12_000_000
"""Largest request, a measurement file with its form around it."""
COOKIE = "hardtack_token"

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
_READING = ("GET", "HEAD")


@dataclass(frozen=True, slots=True)
class Door:
    """Names the server answers to (`127.0.0.1:8000`), and the token it demands; empty on this computer only."""

    hosts: frozenset[str]
    token: str = ""


def door(address: str, port: int, known_as: Iterable[str] = (), token: str = "") -> Door:
    """The door of a server at an address; on this computer it also answers to localhost."""
    names = {address, *known_as}
    if is_loopback(address):
        names |= {"127.0.0.1", "localhost", "[::1]"}
    shown = {f"[{name}]" if ":" in name and not name.startswith("[") else name for name in names}
    return Door(frozenset(host.lower() for name in shown for host in (f"{name}:{port}", name)), token)


def is_loopback(address: str) -> bool:
    """Whether only this computer can reach the address."""
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(address.strip("[]")).is_loopback
    except ValueError:
        return False


class Guard:
    """ASGI middleware that turns away what does not belong, before anything is read or parsed."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app = app
        self.door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a refusal, or pass the request on with its size counted and headers added to the answer."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        sender = _with_headers(send, scope["path"])
        if refusal is not None:
            await refusal(scope, receive, sender)
            return
        counted = _Counted(receive)
        try:
            await self.app(scope, counted, sender)
        except TooLarge:
            await _too_large()(scope, receive, sender)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.door.hosts:
            return _no(421, "this server does not go by that name")
        if scope["method"] not in (*_READING, "POST", "PUT", "PATCH"):
            return _no(405, "this method is not known here", allow="GET, HEAD, POST, PUT, PATCH")
        if scope["method"] not in _READING:
            origin = headers.get("origin")
            if origin is not None and origin.lower() not in {f"http://{h}" for h in hosts}:
                return _no(403, "changes are taken from this server's own pages only")
            if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
                return _no(403, "changes are taken from this server's own pages only")
        length = headers.get("content-length")
        if length is not None and (not length.isdigit() or int(length) > MOST_BYTES):
            return _too_large()
        return self._without_token(scope, headers) if self.door.token else None

    def _without_token(self, scope: Scope, headers: Headers) -> Response | None:
        """None for who holds the token; who brings it in the address gets it as a cookie and a clean address."""
        query = parse_qs(scope["query_string"].decode("latin-1"))
        if given := query.pop("token", None):
            if not _same(given[0], self.door.token):
                return _no(401, "the token is not the one printed where the server was started")
            rest = urlencode(query, doseq=True)
            answer = RedirectResponse(scope["path"] + (f"?{rest}" if rest else ""), 303)
            answer.set_cookie(COOKIE, self.door.token, httponly=True, samesite="strict", path="/")
            return answer
        bearer = headers.get("authorization", "").removeprefix("Bearer ")
        if _same(_cookie(headers), self.door.token) or _same(bearer, self.door.token):
            return None
        return _no(401, "open the address with its token, as printed where the server was started")


class TooLarge(Exception):  # noqa: N818 -- it says what it is
    """More bytes came than a request may have."""


class _Counted:
    """Counts the bytes of a request as they come, whatever its headers said."""

    def __init__(self, receive: Receive) -> None:
        self.receive = receive
        self.bytes = 0

    async def __call__(self) -> Message:
        message = await self.receive()
        self.bytes += len(message.get("body", b""))
        if self.bytes > MOST_BYTES:
            raise TooLarge
        return message


def _with_headers(send: Send, path: str) -> Send:
    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                if (
                    name != "content-security-policy" or name not in headers
                ):  # the report states a stricter one
                    headers[name] = value
            if "cache-control" not in headers:
                headers["cache-control"] = "no-store"
        await send(message)

    return sender


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode())


def _cookie(headers: Headers) -> str:
    try:
        held = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return held[COOKIE].value if COOKIE in held else ""


def _no(status: int, why: str, **headers: str) -> Response:
    return PlainTextResponse(why + "\n", status, headers=headers)


def _too_large() -> Response:
    return _no(413, f"more than {MOST_BYTES // 1_000_000} MB at once")
