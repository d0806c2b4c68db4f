"""
Eyes in every namespace: raw sockets get a copy of each packet that was delivered to the device, after its input rules and
whether or not anybody listens. That is what "arrived" means.
"""

import asyncio
import socket
import struct
import time

from namespaces import inside
from packets import (
    ACK,
    ECHO_REQUEST,
    ICMP,
    ICMPV6,
    SYN,
    TCP,
    UDP,
    describe,
    offered_size,
    segment_size,
    split_ipv4,
)

SO_TIMESTAMPNS = 35
IPV6_RECVPKTINFO = 49
IPV6_PKTINFO = 50
IPV6_HEADER = 40  # in bytes; its seventh says what follows
# Neighbour discovery, multicast listener and router messages go on all the time and are none of ours.
ICMP_NOISE = {6: range(130, 256), 4: (9, 10)}


# A connection that is not answered is begun anew after 1 s, and what then arrives is no consequence of the first packet alone.
# The kernel notes when a packet arrived, so that it does not matter how late a busy machine looks.
LATE_SECONDS = 0.95


class Observer:
    """Everything that arrived at the devices of one site since `forget`, each packet with the seconds since then."""

    def __init__(self, namespaces):
        self.seen = []
        self._begun = time.time()
        self._sockets = []
        for device, namespace in namespaces.items():
            for family, protocols in ((4, (TCP, UDP, ICMP)), (6, (TCP, UDP, ICMPV6))):
                for protocol in protocols:
                    self._watch(device, namespace, family, protocol)

    def _watch(self, device, namespace, family, protocol):
        kind = socket.AF_INET if family == 4 else socket.AF_INET6
        with inside(namespace):
            eye = socket.socket(kind, socket.SOCK_RAW, protocol)
        eye.setblocking(False)
        eye.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        if family == 6:
            eye.setsockopt(socket.IPPROTO_IPV6, IPV6_RECVPKTINFO, 1)
        entry = (eye, device, family, protocol)
        self._sockets.append(entry)
        asyncio.get_running_loop().add_reader(eye, self._read, entry)

    def _read(self, entry):
        eye, device, family, protocol = entry
        while True:
            try:
                data, ancillary, _flags, sender = eye.recvmsg(65535, 256)
            except (BlockingIOError, ConnectionError, OSError):
                return
            self._note(device, family, protocol, data, ancillary, sender)

    def _note(self, device, family, protocol, data, ancillary, sender):
        if family == 4:
            source, destination, _protocol, body = split_ipv4(data)
        else:
            source, body = sender[0].split("%")[0], data
            destination = next(
                (socket.inet_ntop(socket.AF_INET6, value[:16]) for _level, kind, value in ancillary if kind == IPV6_PKTINFO),
                "::",
            )
        facts = describe(protocol, body)
        if "icmp" in facts and _is_noise(family, *facts["icmp"], facts["payload"]):
            return
        ends = {"source": source, "destination": destination}
        after = arrived_at(ancillary) - self._begun
        self.seen.append({"device": device, "family": family, **ends, "protocol": protocol, "after": after, **facts})

    def drain(self):
        """Reads what lies waiting, so that nothing that has arrived is missed."""
        for entry in self._sockets:
            self._read(entry)

    def forget(self):
        self.drain()
        self.seen.clear()
        self._begun = time.time()

    def close(self):
        for eye, *_ in self._sockets:
            asyncio.get_running_loop().remove_reader(eye)
            eye.close()


def arrived_at(ancillary):
    """By the kernel's own clock, in seconds since 1970."""
    return next(
        seconds + nanoseconds / 1e9
        for level, kind, value in ancillary
        if (level, kind) == (socket.SOL_SOCKET, SO_TIMESTAMPNS)
        for seconds, nanoseconds in [struct.unpack("=qq", value)]
    )


def _is_noise(family, icmp_type, _code, payload):
    """Such a message, or an error about one: a redirect to somebody who is not there."""
    is_error = family == 6 and icmp_type < 128
    return icmp_type in ICMP_NOISE[family] or (is_error and _is_about_noise(payload))


def _is_about_noise(quoted):
    return len(quoted) > IPV6_HEADER and quoted[6] == ICMPV6 and quoted[IPV6_HEADER] in ICMP_NOISE[6]


def is_request(packet, protocol, token):
    """Whether a packet is the request of the probe that bears the token, whatever translation made of its addresses."""
    if packet["protocol"] != protocol or packet["after"] > LATE_SECONDS:
        return False
    if protocol == TCP:
        is_first = packet.get("flags", 0) & (SYN | ACK) == SYN
        return is_first and offered_size(packet["options"]) == segment_size(token)
    if protocol in (ICMP, ICMPV6):
        return packet.get("icmp", [0])[0] == ECHO_REQUEST[packet["family"]] and token in packet["payload"]
    return b"ask:" + token in packet.get("payload", b"")


def arrival(packet):
    """A packet as others read of it."""
    return {key: value for key, value in packet.items() if key not in ("after", "options", "payload", "family")}


def unpack_error(data):
    """A `sock_extended_err` with its offender: `(origin, type, code, offender, errno)`; origin 2 is ICMP, 3 ICMPv6."""
    errno, origin, icmp_type, code = struct.unpack("=IBBB", data[:7])
    address = data[16:]
    offender = None
    if len(address) >= 8:
        kind = struct.unpack("=H", address[:2])[0]
        if kind == socket.AF_INET:
            offender = socket.inet_ntoa(address[4:8])
        elif kind == socket.AF_INET6 and len(address) >= 24:
            offender = socket.inet_ntop(socket.AF_INET6, address[8:24])
    return origin, icmp_type, code, offender, errno
