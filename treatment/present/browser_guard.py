"""Who may talk to the planner: this machine, and pages that the planner served. Nobody else.

What is checked, and against what:

- the server listens on the loopback address only: nothing from the network reaches it;
- ``Host`` must be the address that was printed: a name that was made to point here (rebinding) is refused;
- ``Origin`` must be the page's own wherever a browser sends it, and always for the websocket;
- the printed address holds a key that opens the page once: it is exchanged for a cookie, and then worthless;
- cookies reach every port of a machine, so the cookie gives the bare page only. What may be read or changed
  asks for a second secret besides, which stands behind the ``#`` of the printed address and is kept by the
  page for its own origin.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable

from aiohttp import web
from aiohttp.typedefs import Middleware

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

#: Name of the websocket's protocol; the second secret follows it as a second one.
PROTOCOL = "treatment-planner"

_PAGE_RULES = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self' {socket}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class Guard:
    """The secrets of one run, and the checks.

    Parameters
    ----------
    port : int
        Where the server listens.
    """

    def __init__(self, port: int) -> None:
        self.host = f"127.0.0.1:{port}"
        self.origin = f"http://{self.host}"
        self.cookie = f"treatment_{port}"
        self._key: str | None = secrets.token_urlsafe(24)
        self._visitor = secrets.token_urlsafe(24)
        self._secret = secrets.token_urlsafe(24)

    @property
    def address(self) -> str:
        """Address that opens the page, once."""
        return f"{self.origin}/?key={self._key or ''}#{self._secret}"

    def enter(self, key: str) -> web.Response:
        """Exchange the key of the printed address for a cookie.

        Parameters
        ----------
        key : str
            From the address.

        Returns
        -------
        aiohttp.web.Response
            Sends the browser on to the page; the part behind ``#`` stays with it.
        """
        if self._key is None or not secrets.compare_digest(key.encode(), self._key.encode()):
            return refusal("This address has been used already, or belongs to an earlier start.")
        self._key = None
        response = web.Response(status=303, headers={"Location": "/"})
        response.set_cookie(self.cookie, self._visitor, httponly=True, samesite="Strict", path="/")
        return response

    def knows(self, request: web.Request) -> bool:
        """Whether a request brings the cookie.

        Parameters
        ----------
        request : aiohttp.web.Request
            Any request.
        """
        brought = request.cookies.get(self.cookie, "")
        return secrets.compare_digest(brought.encode(), self._visitor.encode())

    def trusts(self, request: web.Request) -> bool:
        """Whether a request brings the second secret: as websocket protocol, or as authorization.

        Parameters
        ----------
        request : aiohttp.web.Request
            Any request.
        """
        offered = request.headers.get("Sec-WebSocket-Protocol", "").split(",")
        offered.append(request.headers.get("Authorization", "").removeprefix("Bearer "))
        return any(secrets.compare_digest(o.strip().encode(), self._secret.encode()) for o in offered)

    def is_foreign(self, request: web.Request) -> str:
        """Say why a request is not from a page of ours; empty when nothing speaks against it.

        Parameters
        ----------
        request : aiohttp.web.Request
            Any request.
        """
        if request.headers.getall("Host", []) != [self.host]:
            return "This planner answers under its own address only."
        origin = request.headers.get("Origin")
        if origin is not None and origin != self.origin:
            return "This planner answers to its own page only."
        if origin is None and "Upgrade" in request.headers:
            return "This planner answers to its own page only."
        if request.headers.get("Sec-Fetch-Site", "none") not in {"none", "same-origin"}:
            return "This planner answers to its own page only."
        return ""

    def middleware(self) -> Middleware:
        """Make the check that stands before every answer, and the headers that go with it."""

        @web.middleware
        async def check(request: web.Request, handler: Handler) -> web.StreamResponse:
            response = await self._answered(request, handler)
            if not response.prepared:
                rules = _PAGE_RULES.format(socket=f"ws://{self.host}")
                response.headers.update(
                    {
                        "Content-Security-Policy": rules,
                        "X-Content-Type-Options": "nosniff",
                        "Referrer-Policy": "no-referrer",
                        "Cross-Origin-Opener-Policy": "same-origin",
                        "Cross-Origin-Resource-Policy": "same-origin",
                        "Cache-Control": "no-store",
                    }
                )
            return response

        return check

    async def _answered(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        reason = self.is_foreign(request)
        if reason:
            return refusal(reason)
        if request.path == "/" and "key" in request.query:
            return self.enter(request.query["key"])
        if not self.knows(request):
            return refusal("Open the address that the planner printed when it started.")
        try:
            return await handler(request)
        except web.HTTPException as error:
            return web.Response(status=error.status, text=error.reason)


def refusal(reason: str) -> web.Response:
    """Say no, in plain text.

    Parameters
    ----------
    reason : str
        One sentence.

    Returns
    -------
    aiohttp.web.Response
        Status 403.
    """
    return web.Response(
        status=403, text=f"{reason}\nStart `treatment view ... --browser` for a new address.\n"
    )
