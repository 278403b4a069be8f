"""A network between phone and server that is slow and can break off."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress

CHUNK = 64 * 1024


class WeakNetwork:
    """Forwards connections to a server; upwards so many bytes a second, as fast as it goes with None."""

    def __init__(self, server_port: int, upwards: int | None) -> None:
        self.upwards = upwards
        self._server_port, self._open, self._broken = server_port, list[socket.socket](), False
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        threading.Thread(target=self._accept, daemon=True).start()

    def break_off(self) -> None:
        """Cut all connections, and every new one."""
        self._broken = True
        self._cut()

    def come_back(self) -> None:
        """Carry again, and no longer slowly."""
        self._broken, self.upwards = False, None

    def close(self) -> None:
        """End."""
        self.break_off()
        self._listener.close()

    def _cut(self) -> None:
        while self._open:
            with suppress(OSError):
                self._open[-1].shutdown(socket.SHUT_RDWR)
            self._open.pop().close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                phone, _ = self._listener.accept()
                if self._broken:
                    phone.close()
                    continue
                server = socket.create_connection(("127.0.0.1", self._server_port))
                self._open += [phone, server]
                for source, sink, slow in ((phone, server, True), (server, phone, False)):
                    threading.Thread(target=self._forward, args=(source, sink, slow), daemon=True).start()

    def _forward(self, source: socket.socket, sink: socket.socket, slow: bool) -> None:
        with suppress(OSError):
            while chunk := source.recv(CHUNK):
                if slow and self.upwards is not None:
                    time.sleep(len(chunk) / self.upwards)
                sink.sendall(chunk)
            sink.shutdown(socket.SHUT_WR)


@contextmanager
def weak_network(server_port: int, upwards: int | None = None) -> Iterator[WeakNetwork]:
    """Lend a network to a server on this machine."""
    network = WeakNetwork(server_port, upwards)
    yield network
    network.close()
