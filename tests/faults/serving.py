"""A weather service on loopback sockets, for answers no web server would send."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from drywind.weather.http import Getter


def getter(attempts: int = 3, longest_wait_s: float = 2.0) -> Getter:
    return Getter(
        "yard@mill.example",
        attempts=attempts,
        first_wait_s=0.01,
        longest_wait_s=longest_wait_s,
    )


@contextmanager
def raw_server(talk: Callable[[socket.socket], None]) -> Iterator[str]:
    """Serve each connection with `talk` after its request has come in; give the address."""

    def serve_one(connection: socket.socket) -> None:
        with connection, suppress(OSError):
            connection.recv(65536)
            talk(connection)

    def serve(listener: socket.socket) -> None:
        with suppress(OSError):
            while True:
                connection, _ = listener.accept()
                threading.Thread(target=serve_one, args=[connection], daemon=True).start()

    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=serve, args=[listener], daemon=True).start()
        yield f"http://127.0.0.1:{listener.getsockname()[1]}/grid"
        listener.shutdown(socket.SHUT_RDWR)
