"""
Listeners: a TCP one answers the first data of each connection, a UDP one each datagram, from the address it was sent to.
The answer carries the question's token, so that nobody takes another probe's answer for his own.
"""

import asyncio
import contextlib
import errno
import socket
import struct

from namespaces import inside
from observe import IPV6_PKTINFO, IPV6_RECVPKTINFO
from packets import TCP, any_address, socket_family

IP_PKTINFO = 8
IP_FREEBIND = 15
IPV6_FREEBIND = 78
# A connection is accepted, heard and answered in three turns of the loop; an answer may go to a listener again.
TURNS = 8


def answer_to(question):
    return b"answer:" + question.removeprefix(b"ask:")


async def all_heard():
    """
    On a busy machine the time may be over before a listener has answered what it was sent: each gets its turn, and whoever is
    answered by another.
    """
    for _ in range(TURNS):
        await asyncio.sleep(0)


class Listeners:
    """All listeners of one site."""

    def __init__(self, namespaces):
        self._namespaces = namespaces
        self._sockets = []
        self._ears = {}

    def open(self, device, protocol, family, port, address=None, interface=None):
        """Listens at a port of every address, or of one address."""
        kind = socket.SOCK_STREAM if protocol == TCP else socket.SOCK_DGRAM
        with inside(self._namespaces[device]):
            ear = socket.socket(socket_family(family), kind)
            scope = socket.if_nametoindex(interface) if interface else 0
        ear.setblocking(False)
        ear.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == 6:
            ear.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            ear.setsockopt(socket.IPPROTO_IPV6, IPV6_FREEBIND, 1)
            ear.setsockopt(socket.IPPROTO_IPV6, IPV6_RECVPKTINFO, 1)
        else:
            ear.setsockopt(socket.IPPROTO_IP, IP_FREEBIND, 1)
            ear.setsockopt(socket.IPPROTO_IP, IP_PKTINFO, 1)
        place = (address or any_address(family), port)
        try:
            ear.bind(place if family == 4 else (*place, 0, scope))
        except OSError as error:
            ear.close()
            if error.errno == errno.EADDRINUSE:
                return  # a server has it, or an earlier listener
            raise
        if protocol == TCP:
            ear.listen(64)
        self._ears[device, protocol, family, port, address, interface] = ear
        self._attend(ear, self._accept if protocol == TCP else self._answer_datagrams)

    def deafen(self, device, protocol, family, port, address=None, interface=None):
        """Nobody listens there any more; a connection that is open goes on."""
        ear = self._ears.pop((device, protocol, family, port, address, interface), None)
        if ear:
            self._drop(ear)

    def _attend(self, ear, attend):
        self._sockets.append(ear)
        asyncio.get_running_loop().add_reader(ear, attend, ear)

    def _accept(self, ear):
        with contextlib.suppress(OSError):
            connection, _peer = ear.accept()
            connection.setblocking(False)
            self._attend(connection, self._answer_stream)

    def _answer_stream(self, connection):
        try:
            question = connection.recv(65535)
        except BlockingIOError:
            return
        except OSError:
            question = b""
        if question:
            with contextlib.suppress(OSError):
                connection.send(answer_to(question))
        else:
            self._drop(connection)

    def _answer_datagrams(self, ear):
        while True:
            try:
                question, ancillary, _flags, sender = ear.recvmsg(65535, 256)
            except OSError:
                return
            if question.startswith(b"answer:"):
                continue  # two listeners would never stop
            told = [own for level, kind, value in ancillary for own in _own_address(level, kind, value)]
            with contextlib.suppress(OSError):
                ear.sendmsg([answer_to(question)], told, 0, sender)

    def _drop(self, connection):
        asyncio.get_running_loop().remove_reader(connection)
        connection.close()
        self._sockets.remove(connection)

    def close(self):
        for ear in list(self._sockets):
            self._drop(ear)


def _own_address(level, kind, value):
    """The control message that makes an answer leave from the address the question was sent to."""
    if level == socket.IPPROTO_IP and kind == IP_PKTINFO:
        yield level, kind, struct.pack("=I", 0) + value[4:8] + bytes(4)
    elif level == socket.IPPROTO_IPV6 and kind == IPV6_PKTINFO:
        if value[0] == 0xFF:
            return  # a group is nobody's address to answer from
        link_local = value[0] == 0xFE and value[1] & 0xC0 == 0x80
        yield level, kind, value[:16] + (value[16:20] if link_local else bytes(4))
