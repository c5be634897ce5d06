"""The demo's site for the browser: built once for all workers of a test run, served as a host would."""

import gzip
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from http import HTTPStatus
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from generator.pages.publish import build_site

DEMO = Path(__file__).parents[2] / "workpacks" / "tide-gate"
TEXT = {".html", ".css", ".js", ".svg", ".json"}
PATIENCE = 600  # seconds that a worker waits for another's build


def build_once(shared: Path) -> Path:
    """Return the demo's site in ``shared``. Whoever makes the folder builds, the others wait for its last file."""
    workshop, site = shared / "demo-site", shared / "demo-site" / "site"
    ready, failed = workshop / "ready", workshop / "failed"
    try:
        workshop.mkdir(parents=True)
    except FileExistsError:
        return _wait(site, ready, failed)
    try:
        build_site(DEMO, site)
    except BaseException as error:
        failed.write_text(str(error), encoding="utf-8", newline="\n")
        raise
    ready.touch()
    return site


def _wait(site: Path, ready: Path, failed: Path) -> Path:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        if failed.exists():
            raise RuntimeError(f"another worker could not build the demo: {failed.read_text(encoding='utf-8')}")
        if ready.exists():
            return site
        time.sleep(0.05)
    raise TimeoutError(f"no other worker built the demo within {PATIENCE} s")


class SiteHandler(SimpleHTTPRequestHandler):
    """Answers as a plain host does, with the site's own page for what is not there."""

    protocol_version = "HTTP/1.1"

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: a browser's own tests hear what fails."""

    def do_GET(self) -> None:
        if Path(self.translate_path(self.path)).exists():
            super().do_GET()
            return
        body = (Path(self.directory) / "404.html").read_bytes()
        self.send_response(HTTPStatus.NOT_FOUND)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser drops connections as it likes; what matters it says itself."""


class Host:
    """A site's host that can be lost and found again, under one address, and be given another build meanwhile."""

    def __init__(self, site: Path, gzipped: bool = False) -> None:
        self.site = site
        self.gzipped = gzipped  # text, as most hosts send it
        self.asked: list[str] = []
        self._port = 0
        self._server: ThreadingHTTPServer | None = None

    def start(self) -> str:
        """Serve, and give the address without a slash at the end: the same as before after a stop."""
        host = self

        class Handler(SiteHandler):
            def __init__(self, *args: Any) -> None:
                super().__init__(*args, directory=str(host.site))

            def do_GET(self) -> None:
                if host._server is not self.server:  # read in the moment in which the network was lost
                    self.close_connection = True
                    return
                self.directory = str(host.site)  # a connection that is kept open outlives a build
                host.asked.append(self.path)
                file = Path(self.translate_path(self.path))
                if not (host.gzipped and file.is_file() and file.suffix in TEXT):
                    super().do_GET()
                    return
                body = gzip.compress(file.read_bytes(), 6)
                self.send_response(HTTPStatus.OK)
                self.send_header("Content-Type", f"{self.guess_type(file)}; charset=utf-8")
                self.send_header("Content-Encoding", "gzip")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

        class Server(_Server):
            def __init__(self) -> None:
                self.open: set[socket.socket] = set()
                super().__init__(("127.0.0.1", host._port), Handler)

            def process_request(self, request: Any, client_address: Any) -> None:
                self.open.add(request)
                super().process_request(request, client_address)

        self._server = server = Server()
        self._port = server.server_port
        threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
        return f"http://127.0.0.1:{self._port}"

    def stop(self) -> None:
        """End it as a network ends: connections that browsers keep open are cut too."""
        server = self._server
        if server is None:
            return
        self._server = None
        server.shutdown()
        server.server_close()
        for one in server.open:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()


@contextmanager
def serve(site: Path) -> Iterator[str]:
    """Serve a site on this machine and give its address, without a slash at the end."""
    with _Server(("127.0.0.1", 0), partial(SiteHandler, directory=str(site))) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}"
        finally:
            server.shutdown()
            thread.join()
