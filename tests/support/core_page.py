"""A page in Chromium with the shipped core modules and the caller of tests/web/core loaded."""

from __future__ import annotations

import threading
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, Any

from support.twin import MODULES, ROOT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

LOAD = """async ({ base, modules }) => {
  const { Core } = await import(`${base}/tests/web/core/call_core.js`);
  window.core = await Core.load(`${base}/web/app/core/`, modules);
}"""


class _Handler(SimpleHTTPRequestHandler):
    """Serves web/app/core, tests/web/core and an empty page; nothing else, and no log."""

    extensions_map = {  # noqa: RUF012 -- the base class's own attribute
        **SimpleHTTPRequestHandler.extensions_map,
        ".js": "text/javascript",
    }

    def do_GET(self) -> None:
        """Answer the empty page itself and leave the two folders to the base class."""
        if self.path == "/":
            self.send_response(200)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>core</title>")
        elif self.path.startswith(("/web/app/core/", "/tests/web/core/")):
            super().do_GET()
        else:
            self.send_error(404)

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 -- the base class's name
        """Write nothing."""


@contextmanager
def core_page(browser: Browser, cpu_slowdown: float = 1) -> Iterator[Page]:
    """Yield a page with `window.core` ready, the processor slowed down by a factor."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Handler, directory=str(ROOT)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with browser.new_context() as context:
            page = context.new_page()
            base = f"http://127.0.0.1:{server.server_port}"
            page.goto(base)
            devtools = context.new_cdp_session(page)
            devtools.send("Emulation.setCPUThrottlingRate", {"rate": cpu_slowdown})
            page.evaluate(LOAD, {"base": base, "modules": list(MODULES)})
            yield page
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
