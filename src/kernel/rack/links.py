"""Messages about links and neighbours, asked of the kernel itself: under emulation a program costs more to start than to run."""

import contextlib
import socket
import struct

from namespaces import inside

NEW_LINK, GET_LINK, GET_NEIGHBOUR, DELETE_NEIGHBOUR = 16, 18, 30, 29
REQUEST, ACKNOWLEDGE, DUMP = 1, 4, 0x300
ERROR, DONE = 2, 3
LINK_NAME, LINK_MASTER, LINK_OF_PORT, LINK_INFO = 3, 10, 12, 18
INFO_KIND, INFO_DATA, BRIDGE_FLUSH, PORT_STATE = 1, 2, 21, 1
NEIGHBOUR_ADDRESS = 1
KEPT_NEIGHBOURS = 0xC0  # NUD_NOARP and NUD_PERMANENT
PORT_STATES = ("disabled", "listening", "learning", "forwarding", "blocking")


class Links:
    """One namespace, as its kernel tells of it."""

    def __init__(self, namespace):
        with inside(namespace):
            self._socket = socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, socket.NETLINK_ROUTE)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._socket.close()

    def bridge_ports(self):
        """Every port of a bridge: `(name, number of the bridge, state)`."""
        ports = []
        for body in self._dump(GET_LINK, struct.pack("=BxHiII", socket.AF_BRIDGE, 0, 0, 0, 0)):
            told = _attributes(body[16:])
            if LINK_OF_PORT in told:
                name = told[LINK_NAME].rstrip(b"\0").decode()
                state = PORT_STATES[_attributes(told[LINK_OF_PORT])[PORT_STATE][0]]
                ports.append((name, struct.unpack("=I", told[LINK_MASTER])[0], state))
        return ports

    def forget_stations(self):
        """What bridges have learned."""
        flush = _attribute(INFO_KIND, b"bridge") + _attribute(INFO_DATA, _attribute(BRIDGE_FLUSH, b""))
        for number in {bridge for _, bridge, _ in self.bridge_ports()}:
            self._do(NEW_LINK, struct.pack("=BxHiII", 0, 0, number, 0, 0) + _attribute(LINK_INFO, flush))

    def forget_neighbours(self):
        """All that were found or looked for; those that were written stay."""
        for body in self._dump(GET_NEIGHBOUR, bytes(12)):
            family, number, state = struct.unpack("=BxxxiH", body[:10])
            if family in (socket.AF_INET, socket.AF_INET6) and not state & KEPT_NEIGHBOURS:
                place = struct.pack("=BxxxiHBB", family, number, 0, 0, 0)
                address = _attribute(NEIGHBOUR_ADDRESS, _attributes(body[12:])[NEIGHBOUR_ADDRESS])
                with contextlib.suppress(FileNotFoundError):  # gone by itself meanwhile
                    self._do(DELETE_NEIGHBOUR, place + address)

    def _dump(self, kind, body):
        self._send(kind, REQUEST | DUMP, body)
        bodies = []
        while True:
            for answer, body in self._receive():
                if answer == DONE:
                    return bodies
                bodies.append(body)

    def _do(self, kind, body):
        self._send(kind, REQUEST | ACKNOWLEDGE, body)
        self._receive()

    def _send(self, kind, flags, body):
        self._socket.send(struct.pack("=IHHII", 16 + len(body), kind, flags, 1, 0) + body)

    def _receive(self):
        data = self._socket.recv(1 << 16)
        messages = []
        while data:
            length, kind = struct.unpack("=IH", data[:6])
            messages.append((kind, data[16:length]))
            if kind == ERROR and (number := -struct.unpack("=i", data[16:20])[0]):
                raise OSError(number, "netlink")
            data = data[(length + 3) & ~3 :]
        return messages


def _attribute(kind, value):
    return struct.pack("=HH", 4 + len(value), kind) + value + bytes(-len(value) % 4)


def _attributes(data):
    told = {}
    while len(data) >= 4:
        length, kind = struct.unpack("=HH", data[:4])
        told[kind & 0x3FFF] = data[4:length]
        data = data[(length + 3) & ~3 :]
    return told
