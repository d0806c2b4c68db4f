"""
Connections that stay open. Each is used now and then: its other end answers what is sent over TCP, and a datagram from the same
port over UDP. So it shows what devices between them still know of it.
"""

import asyncio
import contextlib
import socket
import struct

from namespaces import inside
from packets import TCP, any_address, socket_family

PATIENCE_SECONDS = 0.9
# What is sent each time.
QUESTION = b"ask:held"


class Held:
    """The connections of one site, by names of whoever asks."""

    def __init__(self):
        self._open = {}
        # Its data is sent again later and later: when it is answered says nothing any more.
        self._stuck = set()

    async def use(self, name, namespace, request):
        """
        `used`: how the use of the open one ended, `answered` or `silent`; None where none is open, or nothing can be told of it.
        Where it did not go on a new one is tried, and takes its place if it opens.
        """
        before = self._open.get(name)
        used = None
        if before and name not in self._stuck:
            used = "answered" if await _is_answered(before) else "silent"
        if used == "answered":
            return {"used": used}
        fresh = await _opened(namespace, request)
        if fresh:
            if before:
                _drop(before)
            self._stuck.discard(name)
            self._open[name] = fresh
        elif used == "silent" and request["protocol"] == TCP:
            self._stuck.add(name)
        return {"used": used, "opened": fresh is not None}

    def close(self):
        for each in self._open.values():
            _drop(each)
        self._open.clear()


async def _opened(namespace, request):
    """A connection that was answered once, else None."""
    loop = asyncio.get_running_loop()
    family = request["family"]
    kind = socket.SOCK_STREAM if request["protocol"] == TCP else socket.SOCK_DGRAM
    with inside(namespace):
        ours = socket.socket(socket_family(family), kind)
    ours.setblocking(False)
    try:
        ours.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        ours.bind((request.get("source") or any_address(family), request["sourcePort"]))
        target = (request["destination"], request["port"])
        await asyncio.wait_for(loop.sock_connect(ours, target), PATIENCE_SECONDS)
        if await _is_answered(ours):
            return ours
    except (OSError, asyncio.TimeoutError):
        pass
    _drop(ours)
    return None


async def _is_answered(ours):
    loop = asyncio.get_running_loop()
    try:
        with contextlib.suppress(BlockingIOError):
            while ours.recv(65535):
                pass  # what came late
        await loop.sock_sendall(ours, QUESTION)
        answer = await asyncio.wait_for(loop.sock_recv(ours, 65535), PATIENCE_SECONDS)
        return answer.startswith(b"answer:")
    except (OSError, asyncio.TimeoutError):
        return False


def _drop(ours):
    # A reset instead of a farewell: nothing of it goes on.
    if ours.type == socket.SOCK_STREAM:
        ours.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    ours.close()
