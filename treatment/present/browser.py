"""The room in a web page, on this machine only: look, change, see what it does, keep it.

The page paints and asks; every change is made here, checked by the findings of every command and evaluated
by the one `evaluate`. All files stay in the folder that was chosen.
"""

from __future__ import annotations

import asyncio
import contextlib
import signal
import socket
import sys
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from treatment.errors import PlanError, TreatmentError
from treatment.present.browser_draft import Draft, hung
from treatment.present.browser_store import Store
from treatment.present.browser_taken import take_along
from treatment.present.extras import install_hint
from treatment.present.folder import SCENE_COPY, written_by_us
from treatment.present.pages import template_text
from treatment.present.themes import colours_css, theme_script
from treatment.scene.load import load_scene

_FILES: Final = {
    "style.css": "text/css",
    **dict.fromkeys(
        (
            "planner.js",
            "form.js",
            "built.js",
            "fixed.js",
            "furniture.js",
            "hanging.js",
            "panels.js",
            "plan.js",
            "wall.js",
            "solid.js",
            "results.js",
            "parts.js",
        ),
        "text/javascript",
    ),
}


def serve(
    subject: Path,
    folder: Path,
    port: int = 0,
    open_browser: bool = True,
    say: Callable[[str], None] = lambda text: print(text, file=sys.stderr, flush=True),  # noqa: T201
) -> None:
    """Serve the browser planner until it is interrupted.

    Parameters
    ----------
    subject : Path
        A room file, or a folder that ``plan`` wrote.
    folder : Path
        Where the work is kept; made when it does not exist. Nothing else is read or written afterwards.
    port : int
        On the loopback address; 0 takes a free one.
    open_browser : bool
        Whether to open the page.
    say : callable
        Told where the page is.

    Raises
    ------
    SceneError
        When the room has errors to begin with.
    PlanError
        When the folder is held by another planner, or holds the work on something else, or the port is taken.
    """
    try:
        import aiohttp  # noqa: F401
        import tomlkit  # noqa: F401
    except ImportError as error:
        hint = install_hint("browser")
        raise PlanError(f"the browser planner needs {error.name}", hint=hint) from None
    store = Store(folder)
    with store.held():
        name, start = _opened(subject, store)
        listener = _listen(port)
        with listener:
            asyncio.run(_serve(store, name, start, listener, open_browser, say))


def _opened(subject: Path, store: Store) -> tuple[str, Draft]:
    """Read what was named; what it names is copied into the folder: nothing else is needed later."""
    if subject.is_dir():
        from treatment.present.reopen import reopen_plan

        if not written_by_us(subject):
            hint = "give a room file, or a folder that `plan` wrote"
            raise PlanError("this folder holds no plan", where=str(subject), hint=hint)
        plan = reopen_plan(subject)
        source, panels = subject / SCENE_COPY, tuple(hung(p, plan.scene) for p in plan.placements)
    else:
        load_scene(subject)
        source, panels = subject, ()
    return subject.resolve().name, Draft(take_along(source, store), panels)


def _listen(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
    except (OSError, OverflowError) as error:
        listener.close()
        message = f"port {port} cannot be used: {getattr(error, 'strerror', None) or error}"
        raise PlanError(message, hint="leave it out: a free one is taken then") from error
    return listener


async def _serve(
    store: Store,
    name: str,
    start: Draft,
    listener: socket.socket,
    open_browser: bool,
    say: Callable[[str], None],
) -> None:
    from aiohttp import web

    from treatment.present.browser_desk import Desk
    from treatment.present.browser_guard import Guard
    from treatment.present.browser_session import Session

    guard = Guard(int(listener.getsockname()[1]))
    desk = Desk(Session.open(store, name, start))
    application = web.Application(middlewares=[guard.middleware()], client_max_size=64 * 1024)
    application.add_routes(_routes(desk, guard))
    runner = web.AppRunner(application, access_log=None, shutdown_timeout=1.0)
    await runner.setup()
    await web.SockSite(runner, listener).start()
    stop = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # Windows: Ctrl+C raises instead
            asyncio.get_running_loop().add_signal_handler(number, stop.set)
    try:
        say(f"the planner is at {guard.address}")
        say(f"everything is kept in {store.folder}; stop with Ctrl+C")
        if open_browser:
            await asyncio.to_thread(webbrowser.open, guard.address)
        await stop.wait()
    finally:
        await desk.close()
        await runner.cleanup()


def _routes(desk: Any, guard: Any) -> list[Any]:
    from aiohttp import WSMsgType, web

    from treatment.present.browser_guard import PROTOCOL, refusal

    async def page(_: web.Request) -> web.Response:
        return web.Response(text=template_text("browser/page.html"), content_type="text/html")

    async def file(request: web.Request) -> web.Response:
        name = request.match_info["name"]
        if name == "colours.css":
            return web.Response(text=colours_css(), content_type="text/css")
        if name == "theme.js":
            return web.Response(text=theme_script(), content_type="text/javascript")
        if name not in _FILES:
            raise web.HTTPNotFound
        return web.Response(text=template_text(f"browser/{name}"), content_type=_FILES[name])

    async def report(request: web.Request) -> web.Response:
        if not guard.trusts(request):
            return refusal("Only the planner's page may ask for this.")
        try:
            text = await desk.report()
        except TreatmentError as error:
            return web.Response(status=409, text=str(error))
        return web.Response(
            text=text, content_type="text/html", headers={"Content-Disposition": "attachment"}
        )

    async def talk(request: web.Request) -> web.StreamResponse:
        if not guard.trusts(request):
            return refusal("Only the planner's page may ask for this.")
        connection = web.WebSocketResponse(protocols=[PROTOCOL], heartbeat=20.0, max_msg_size=64 * 1024)
        await connection.prepare(request)
        async with desk.joined(connection):
            async for message in connection:
                if message.type is WSMsgType.TEXT:
                    await desk.hear(connection, message.data)
        return connection

    return [
        web.get("/", page),
        web.get("/files/{name}", file),
        web.get("/report", report),
        web.get("/talk", talk),
    ]
