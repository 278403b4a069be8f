"""A very small server that answers like S3: put, get, head, delete; it asks for no keys."""

import hashlib
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit


class _Bucket(BaseHTTPRequestHandler):
    """Keeps objects in the server's dictionary, by their path."""

    protocol_version = "HTTP/1.1"
    objects: dict[str, bytes]

    def do_PUT(self) -> None:
        """Keep an object."""
        self.objects[self.key] = self.rfile.read(int(self.headers["Content-Length"]))
        self.answer(200, head_only=True)

    def do_GET(self) -> None:
        """Return an object."""
        self.answer(200 if self.key in self.objects else 404)

    def do_HEAD(self) -> None:
        """Tell of an object."""
        self.answer(200 if self.key in self.objects else 404, head_only=True)

    def do_POST(self) -> None:
        """Forget the objects of a list, as S3's DeleteObjects asks."""
        asked = self.rfile.read(int(self.headers["Content-Length"])).decode("utf-8")
        keys = re.findall(r"<Key>(.*?)</Key>", asked)
        for key in keys:
            self.objects.pop(f"{self.key.rstrip('/')}/{key}", None)
        done = "".join(f"<Deleted><Key>{key}</Key></Deleted>" for key in keys)
        told = f"<DeleteResult>{done}</DeleteResult>".encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(told)))
        self.end_headers()
        self.wfile.write(told)

    @property
    def key(self) -> str:
        """The object's path without its query."""
        return urlsplit(self.path).path

    def answer(self, status: int, *, head_only: bool = False) -> None:
        """Answer with the object that the path names, if there is one."""
        content = self.objects.get(self.key, b"")
        self.send_response(status)
        self.send_header("ETag", f'"{hashlib.md5(content, usedforsecurity=False).hexdigest()}"')
        self.send_header("Last-Modified", "Mon, 04 May 2026 12:00:00 GMT")
        has_length = self.command in ("GET", "HEAD")
        self.send_header("Content-Length", str(len(content) if has_length else 0))
        self.end_headers()
        if not head_only:
            self.wfile.write(content)

    def log_message(self, format: str, *_arguments: object) -> None:  # noqa: A002 (the base class's name)
        """Say nothing."""


@contextmanager
def small_s3() -> Iterator[str]:
    """Run the server; yield its address."""
    handler = type("Bucket", (_Bucket,), {"objects": {}})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        server.daemon_threads = True
        thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_address[1]}"
        server.shutdown()
        thread.join()
