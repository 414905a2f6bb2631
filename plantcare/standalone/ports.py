"""Free TCP ports of 127.0.0.1."""

from __future__ import annotations

import socket

from plantcare.standalone.processes import ReportedError

HOST = "127.0.0.1"
_NEIGHBOURS = 100


def free_port() -> int:
    """Return a port that the system calls free just now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def is_free(port: int) -> bool:
    """Return whether a server could listen on the port now."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except (OSError, OverflowError):
            return False
    return True


def choose_port(asked: int | None, usual: int) -> int:
    """Return the port asked for, or the first free one from the usual port on.

    Raises ReportedError when the asked port is taken or none is free.
    """
    if asked is not None:
        if not is_free(asked):
            message = f"Port {asked} is taken by another program or not allowed. Choose another with --port."
            raise ReportedError(message)
        return asked
    for port in range(usual, usual + _NEIGHBOURS):
        if is_free(port):
            return port
    message = f"No free port between {usual} and {usual + _NEIGHBOURS - 1}. Choose one with --port."
    raise ReportedError(message)
