"""Who may talk to the page: this computer alone, by the link that was printed at the start.

The page listens on 127.0.0.1 only, but any other page in the same browser could still send it
requests, also under a name of its own that it lets lead to 127.0.0.1. So each request must name
this host, must not come from another page, and must carry the token of the first link, which a
cookie keeps from then on. What is sent back tells the browser to run, load and show nothing but
what this page itself serves.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, quote, urlencode

from lossfill.page.words import common as words

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOSTS = ("127.0.0.1", "localhost")

TOKEN = "token"
"""Name of the token in the first link."""

# NiceGUI compiles its components in the browser, from scripts that stand in the page: so 'eval' and
# inline scripts must be let through. What comes from a file is escaped before it gets there.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
    "connect-src 'self' {sockets}; worker-src 'self' blob:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'self'"
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What of a request says whether it may pass.

    Parameters
    ----------
    headers : names in lower case, with the values of each
    token : in the link, or ""
    """

    headers: dict[str, list[str]]
    token: str = ""

    def one(self, name: str) -> str:
        """The header's value, or "" where it is missing or given twice."""
        values = self.headers.get(name, [])
        return values[0] if len(values) == 1 else ""

    @property
    def is_a_link(self) -> bool:
        """Whether somebody followed a link, rather than a page fetching something."""
        return self.one("sec-fetch-mode") == "navigate" and self.one("sec-fetch-dest") == "document"


class Guard:
    """An ASGI layer that lets through what `refusal` has nothing against.

    Parameters
    ----------
    app : what it guards
    token : the secret of the first link
    port : that is listened on
    """

    def __init__(self, app: ASGIApp, *, token: str, port: int) -> None:
        self._app = app
        self._token = token
        self._hosts = frozenset(f"{host}:{port}" for host in HOSTS)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        # Browsers keep cookies by host alone: a second page on another port has a name of its own.
        self._cookie = f"lossfill_token_{port}"
        sockets = " ".join(f"ws://{host}" for host in sorted(self._hosts))
        self._headers = {
            b"content-security-policy": POLICY.format(sockets=sockets).encode(),
            b"cross-origin-opener-policy": b"same-origin",
            b"cross-origin-resource-policy": b"same-origin",
            b"referrer-policy": b"no-referrer",
            b"x-content-type-options": b"nosniff",
            b"x-frame-options": b"SAMEORIGIN",
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request or a web socket on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        asked = _asked(scope)
        why = self.refusal(asked)
        if scope["type"] == "websocket":
            if why is None:
                await self._app(scope, receive, send)
            else:
                await send({"type": "websocket.close", "code": 1008})
            return
        shielded = self._shielded(send)
        if why is not None:
            await _answer(shielded, 403, words.REFUSED.format(why=why))
        elif not self._is_token(asked.token):
            await self._app(scope, receive, shielded)
        elif asked.one("sec-fetch-site") in ("cross-site", "same-site"):
            # The browser would not send the new cookie along with a redirection of such a link.
            await self._app(scope, receive, self._with_cookie(shielded))
        else:
            await self._without_token(scope, shielded)

    def refusal(self, asked: Asked) -> str | None:
        """Why a request is refused, or None."""
        if asked.one("host").lower() not in self._hosts:
            return words.OTHER_HOST
        origins = asked.headers.get("origin", [])
        if any(origin not in self._origins for origin in origins):
            return words.OTHER_PAGE
        known = self._is_token(asked.token)
        # "same-site" is another port of this computer. From there, too, the whole link may be used.
        site = asked.one("sec-fetch-site") or "none"
        if site not in ("same-origin", "none") and not (known and asked.is_a_link):
            return words.OTHER_PAGE
        if known or any(self._is_token(one) for one in _cookies(asked, self._cookie)):
            return None
        return words.NO_TOKEN

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self._token.encode())

    async def _without_token(self, scope: Scope, send: Send) -> None:
        """Send on to the same page with the token in a cookie: links are kept, shown and shared."""
        rest = [one for one in _query(scope) if one[0] != TOKEN]
        # One slash: two would be taken for the name of another host.
        place = "/" + quote(scope["path"].lstrip("/\\")) + (f"?{urlencode(rest)}" if rest else "")
        await self._with_cookie(send)(
            {
                "type": "http.response.start",
                "status": 303,
                "headers": [(b"location", place.encode("latin-1")), (b"content-length", b"0")],
            }
        )
        await send({"type": "http.response.body", "body": b""})

    def _with_cookie(self, send: Send) -> Send:
        held = f"{self._cookie}={self._token}; Path=/; HttpOnly; SameSite=Strict".encode("latin-1")

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = [*message.get("headers", []), (b"set-cookie", held)]
                message = {**message, "headers": headers}
            await send(message)

        return sent

    def _shielded(self, send: Send) -> Send:
        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = message.get("headers", [])
                there = {name.lower() for name, _ in own}
                more = [pair for pair in self._headers.items() if pair[0] not in there]
                message = {**message, "headers": [*own, *more]}
            await send(message)

        return sent


def _asked(scope: Scope) -> Asked:
    headers: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return Asked(headers, dict(reversed(_query(scope))).get(TOKEN, ""))


def _query(scope: Scope) -> list[tuple[str, str]]:
    return parse_qsl(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)


async def _answer(send: Send, status: int, sentence: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": f"{sentence}\n".encode()})


def _cookies(asked: Asked, wanted: str) -> list[str]:
    parts = [part.strip() for one in asked.headers.get("cookie", []) for part in one.split(";")]
    pairs = [part.partition("=") for part in parts]
    return [value for name, _, value in pairs if name == wanted]
