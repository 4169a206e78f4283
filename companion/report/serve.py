"""The report in a browser, from the loopback address alone, made anew at every look."""

from __future__ import annotations

import webbrowser
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from companion.errors import CompanionError
from companion.report.page import render_report

LOOPBACK = "127.0.0.1"
"""The only address that is listened on: what happens in the shop stays there."""


def serve_report(folder: Path, *, port: int = 0, browser: bool = True) -> None:
    """Show the report until the user stops it with Ctrl-C.

    Args:
        folder: The session folder.
        port: To listen on; 0 for a free one.
        browser: Whether to open the page in the user's browser.

    Raises:
        CompanionError: If the log cannot be used or the port is taken.
    """
    render_report(folder)
    with report_server(folder, port) as server:
        address = f"http://{LOOPBACK}:{server.server_port}/"
        print(f"Review: {address} (stop with Ctrl-C)", flush=True)
        if browser:
            webbrowser.open(address)
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            print()


def report_server(folder: Path, port: int) -> ThreadingHTTPServer:
    """Return a server of one page, listening and ready to be run.

    Raises:
        CompanionError: If the port is taken.
    """

    class Page(BaseHTTPRequestHandler):
        """Answers for ``/`` and for nothing else."""

        def do_GET(self) -> None:
            # A page elsewhere that points its own name at this machine must not get to read this.
            host = self.headers.get("Host", "")
            if host not in (f"{LOOPBACK}:{self._port()}", f"localhost:{self._port()}"):
                self._answer(403, "This page is for this computer only.")
            elif self.path != "/":
                self._answer(404, "There is only one page here: /")
            else:
                try:
                    self._answer(200, render_report(folder), "text/html")
                except CompanionError as error:
                    self._answer(500, str(error))

        def _port(self) -> int:
            return int(self.connection.getsockname()[1])

        def _answer(self, status: int, text: str, kind: str = "text/plain") -> None:
            body = text.encode()
            self.send_response(status)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("X-Content-Type-Options", "nosniff")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            """Keep quiet: the terminal belongs to the user."""

    try:
        return ThreadingHTTPServer((LOOPBACK, port), Page)
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", None) or "no such port"
        raise CompanionError(
            f"The review page cannot listen on port {port} ({why}); "
            "leave --port out for a free one."
        ) from None
