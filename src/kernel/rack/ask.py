"""
Probes: a whole exchange over TCP, UDP or ICMP echo, told as how it ended. Error queues are read before socket errors,
because they alone tell which ICMP message came and from whom. A connection that opened was answered, whatever comes
later; whether data flows is told apart.
"""

import asyncio
import contextlib
import errno
import itertools
import os
import select
import socket
import struct
import time

from listen import all_heard
from namespaces import inside
from observe import LATE_SECONDS, SO_TIMESTAMPNS, arrived_at, unpack_error
from packets import ECHO_REPLY, TCP, UDP, any_address, echo_request, segment_size, socket_family, split_ipv4

RECVERR = {4: (socket.IPPROTO_IP, 11), 6: (socket.IPPROTO_IPV6, 25)}
MSG_ERRQUEUE = 0x2000
ORIGINS = (2, 3)
ESTABLISHED = b"\1"
TOTAL_RETRANSMISSIONS_AT = 100  # in the kernel's `tcp_info`
AGAIN_SECONDS = 1.5  # after which a first packet has been sent again, and what came of it
_identifiers = itertools.count(os.getpid() % 20000 + 1000)


class Asker:
    """One probe from one device. `patience` is how long silence is listened to, in seconds."""

    def __init__(self, namespace, request, token):
        self.request = request
        self.family = request["family"]
        self.token = token
        self.patience = request.get("patience", 0.9)
        self._loop = asyncio.get_running_loop()
        kind = {TCP: socket.SOCK_STREAM, UDP: socket.SOCK_DGRAM}.get(request["protocol"], socket.SOCK_RAW)
        protocol = request["protocol"] if kind == socket.SOCK_RAW else 0
        self._namespace = namespace
        with inside(namespace):
            self.socket = socket.socket(socket_family(self.family), kind, protocol)
            self._scope = socket.if_nametoindex(request["scope"]) if request.get("scope") else 0
        self.socket.setblocking(False)
        self.socket.setsockopt(*RECVERR[self.family], 1)
        self.socket.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        self._begun = time.time()
        if request.get("egress"):
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, request["egress"].encode())

    def _place(self, address, port):
        return (address, port) if self.family == 4 else (address, port, 0, self._scope)

    async def run(self):
        """The outcome, without arrivals."""
        protocol = self.request["protocol"]
        try:
            port = self.request.get("sourcePort", 0) if protocol in (TCP, UDP) else 0
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self.socket.bind(self._place(self.request.get("source") or any_address(self.family), port))
            return await {TCP: self._tcp, UDP: self._udp}.get(protocol, self._echo)()
        except OSError as error:
            return {"end": "local-error", "errno": errno.errorcode.get(error.errno, str(error.errno))}
        finally:
            self._close()

    def _close(self):
        # A reset instead of a farewell: nothing of this probe goes on while the next one runs.
        if self.request["protocol"] == TCP:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.socket.close()

    async def _tcp(self):
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_MAXSEG, segment_size(self.token))
        before = self._unheeded()
        with contextlib.suppress(BlockingIOError):
            self.socket.connect(self._place(self.request["destination"], self.request["port"]))
        was_early = self._unheeded() > before
        is_over = await self._writable()
        if was_early and not is_over:
            return await self._told_again()
        if self._was_repeated():
            # No answer came within a second; what came of a packet sent again, seen late on a busy machine, is none.
            return self._refusal(LATE_SECONDS) or {"end": "silent"}
        if not is_over:
            return self._refusal() or {"end": "silent"}
        if self.socket.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, 1) != ESTABLISHED:
            error = self.socket.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
            if error == errno.ECONNRESET:
                # Refused is who never was answered; this one was reset because its acknowledgement met a rule.
                return {"end": "answered", "dataFlowed": False, "errno": "ECONNRESET"}
            return self._refusal() or (_ended_by(error) if error else None)
        try:
            # An error may have met the handshake's last segment already; data is tried all the same.
            self.socket.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
            self.socket.send(b"ask:" + self.token)
            answer = await self._receive(lambda data, _sender: b"answer:" + self.token in data)
        except OSError:
            answer = {"end": "silent"}
        return {"end": "answered", "dataFlowed": answer["end"] == "answered"}

    def _unheeded(self):
        """Errors so far, at this device, about segments that no connection counted as sent."""
        with inside(self._namespace), open("/proc/thread-self/net/netstat", encoding="ascii") as table:
            names, counts = [line.split() for line in table if line.startswith("TcpExt:")]
        return int(counts[names.index("OutOfWindowIcmps")])

    async def _told_again(self):
        """
        Over cables without length all that comes of a first packet has come before `connect` is over, and so before the
        connection counts it as sent: an error about the reset with which its own stack answered a stray answer is not
        heeded then, as it is over every other cable. It comes once more, with all else, when the packet is sent again.
        """
        await self._ready(self._loop.add_writer, self._loop.remove_writer, AGAIN_SECONDS)
        return self._refusal() or {"end": "silent"}

    def _was_repeated(self):
        """Whether the connection's first packet was sent again; an error that came while it was sent does not end that."""
        told = self.socket.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, TOTAL_RETRANSMISSIONS_AT + 4)
        return struct.unpack_from("=I", told, TOTAL_RETRANSMISSIONS_AT)[0] > 0

    async def _udp(self):
        self.socket.connect(self._place(self.request["destination"], self.request["port"]))
        self.socket.send(b"ask:" + self.token + bytes(self.request.get("fill", 0)))
        return await self._receive(lambda data, _sender: data.startswith(b"answer:" + self.token))

    async def _echo(self):
        identifier = next(_identifiers) & 0xFFFF
        self.socket.connect(self._place(self.request["destination"], 0))
        self.socket.send(echo_request(self.family, identifier, self.token + bytes(self.request.get("fill", 0))))

        def is_reply(data, _sender):
            body = split_ipv4(data)[3] if self.family == 4 else data
            return body[0] == ECHO_REPLY[self.family] and self.token in body

        return await self._receive(is_reply)

    async def _receive(self, is_answer):
        """Waits for the answer; an error of the network that comes first ends it."""
        deadline = self._loop.time() + self.patience
        while await self._readable(deadline - self._loop.time()):
            trouble = self._refusal()
            if trouble:
                return trouble
            try:
                data, _ancillary, _flags, sender = self.socket.recvmsg(65535, 256)
            except BlockingIOError:
                continue
            except OSError as error:
                return self._refusal() or _ended_by(error.errno)
            if not data and self.request["protocol"] == TCP:
                break
            if is_answer(data, sender):
                return {"end": "answered"}
        return {"end": "silent"}

    def _refusal(self, within=None):
        """The first ICMP error about what was sent, if it came within so many seconds. Default: however long it took."""
        while True:
            try:
                quoted, ancillary, _flags, _address = self.socket.recvmsg(1024, 1024, MSG_ERRQUEUE)
            except OSError:
                return None
            if self._is_foreign(quoted):
                continue
            if within is not None and arrived_at(ancillary) - self._begun > within:
                return None
            for level, kind, value in ancillary:
                if (level, kind) in RECVERR.values():
                    origin, icmp_type, code, offender, number = unpack_error(value)
                    if origin in ORIGINS:
                        refusal = {"type": icmp_type, "code": code, "from": offender}
                        return {"end": "refused", "refusal": refusal, "errno": errno.errorcode.get(number, str(number))}

    def _is_foreign(self, quoted):
        """A raw socket hears of all packets between its ends: of its own reply, too, where a device asks itself."""
        return self.request["protocol"] not in (TCP, UDP) and quoted[:1] == bytes([ECHO_REPLY[self.family]])

    async def _writable(self):
        ready = await self._ready(self._loop.add_writer, self._loop.remove_writer, self.patience)
        return ready or self._is_ready(select.POLLOUT)

    async def _readable(self, seconds):
        if seconds > 0 and await self._ready(self._loop.add_reader, self._loop.remove_reader, seconds):
            return True
        await all_heard()
        return self._is_ready(select.POLLIN)

    def _is_ready(self, event):
        """Asks the kernel itself: on a busy machine the time is over before anybody has looked."""
        poll = select.poll()
        poll.register(self.socket, event)
        return bool(poll.poll(0))

    async def _ready(self, add, remove, seconds):
        event = asyncio.Event()
        add(self.socket, event.set)
        try:
            await asyncio.wait_for(event.wait(), seconds)
            return True
        except asyncio.TimeoutError:
            return False
        finally:
            remove(self.socket)


def _ended_by(number):
    name = errno.errorcode.get(number, str(number))
    if number in (errno.ECONNREFUSED, errno.ECONNRESET, errno.EPIPE):
        return {"end": "reset", "errno": name}
    return {"end": "local-error", "errno": name}
