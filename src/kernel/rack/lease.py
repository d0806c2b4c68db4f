"""
A DHCPv4 client (RFC 2131) that reads and writes frames, as clients do that have no address yet: discovery, first offer,
request, acknowledgement. No filter of the device stops it (kernel fact 26).
"""

import asyncio
import itertools
import os
import socket
import struct

from namespaces import inside
from packets import UDP, checksum, split_ipv4

DISCOVER, OFFER, REQUEST, ACKNOWLEDGE, REFUSE = 1, 2, 3, 5, 6
SERVER_PORT, CLIENT_PORT = 67, 68
MAGIC = b"\x63\x82\x53\x63"
BROADCAST = b"\xff" * 6
MASK, ROUTERS, RESOLVERS, DOMAIN, REQUESTED, SECONDS, KIND, SERVER, PARAMETERS, ROUTES = 1, 3, 6, 15, 50, 51, 53, 54, 55, 121
WANTED = bytes([MASK, ROUTES, ROUTERS, RESOLVERS, DOMAIN, SECONDS, 58, 59])
TRIES = 2
# A machine with much to do may let a server wait: nobody gives up while one has something to read or to do.
MOST_SECONDS = 10
SHORT_WHILE = 0.1
_transactions = itertools.count(os.getpid() << 12)


async def take_lease(namespace, interface, is_busy, patience=0.6):
    """What was lent, as a dictionary; None where no server answers, or one refuses. Waits on while anybody is at work."""
    with inside(namespace):
        line = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(0x0800))
        line.bind((interface, 0x0800))
        hardware = line.getsockname()[4]
    line.setblocking(False)
    transaction = next(_transactions) & 0xFFFFFFFF
    wait = (patience, is_busy)
    with line:
        offer = await _ask(line, hardware, transaction, {KIND: bytes([DISCOVER])}, (OFFER,), wait)
        if offer is None:
            return None
        wishes = {KIND: bytes([REQUEST]), REQUESTED: offer["address"], SERVER: _server(offer)}
        answer = await _ask(line, hardware, transaction, wishes, (ACKNOWLEDGE, REFUSE), wait, _server(offer))
    return None if answer is None or answer["kind"] == REFUSE else _told(answer)


async def _ask(line, hardware, transaction, options, kinds, wait, server=None):
    """Says it to everybody, twice if need be, and waits for the first answer of one of the kinds."""
    loop = asyncio.get_running_loop()
    patience, is_busy = wait
    for _ in range(TRIES):
        line.send(_frame(hardware, transaction, {**options, PARAMETERS: WANTED}))
        deadline = loop.time() + patience
        latest = deadline + MOST_SECONDS
        while loop.time() < deadline or (loop.time() < latest and is_busy()):
            try:
                frame = await asyncio.wait_for(loop.sock_recv(line, 65535), max(deadline - loop.time(), SHORT_WHILE))
            except asyncio.TimeoutError:
                continue
            answer = _parse(frame, hardware, transaction)
            # Of two servers the one that was not chosen may refuse the request (kernel fact 27): not what was asked.
            if answer and answer["kind"] in kinds and (server is None or _server(answer) == server):
                return answer
    return None


def _server(answer):
    return answer["options"].get(SERVER, b"")


def _frame(hardware, transaction, options):
    said = b"".join(bytes([code, len(value)]) + value for code, value in options.items()) + b"\xff"
    message = struct.pack("!BBBBIHH", 1, 1, 6, 0, transaction, 0, 0) + bytes(16) + hardware + bytes(202) + MAGIC + said
    message = message.ljust(300, b"\0")  # RFC 1542 section 2.1
    udp = struct.pack("!HHHH", CLIENT_PORT, SERVER_PORT, 8 + len(message), 0) + message
    head = struct.pack("!BBHHHBBH4s4s", 0x45, 0, 20 + len(udp), 0, 0, 64, UDP, 0, bytes(4), b"\xff" * 4)
    return BROADCAST + hardware + b"\x08\x00" + head[:10] + struct.pack("!H", checksum(head)) + head[12:] + udp


def _parse(frame, hardware, transaction):
    body = frame[14:]
    if len(body) < 28 or body[9] != UDP:
        return None
    udp = split_ipv4(body)[3]
    message = udp[8:]
    if len(message) < 240 or struct.unpack("!HH", udp[:4]) != (SERVER_PORT, CLIENT_PORT):
        return None
    if message[0] != 2 or message[4:8] != struct.pack("!I", transaction) or message[28:34] != hardware:
        return None
    options = _options(message[240:])
    return {"address": message[16:20], "options": options, "kind": options.get(KIND, b"\0")[0]}


def _options(data):
    found = {}
    while data and data[0] != 255:
        if data[0] == 0:
            data = data[1:]
            continue
        length = data[1] if len(data) > 1 else 0
        found[data[0]] = found.get(data[0], b"") + data[2 : 2 + length]
        data = data[2 + length :]
    return found


def _told(answer):
    options = answer["options"]
    return {
        "address": socket.inet_ntoa(answer["address"]),
        "length": bin(int.from_bytes(options.get(MASK, b"\xff" * 4), "big")).count("1"),
        "server": socket.inet_ntoa(options.get(SERVER, bytes(4))),
        "seconds": int.from_bytes(options.get(SECONDS, b"\0"), "big"),
        "routers": _addresses(options.get(ROUTERS, b"")),
        "resolvers": _addresses(options.get(RESOLVERS, b"")),
        "domain": options.get(DOMAIN, b"").rstrip(b"\0").decode("ascii", "replace"),
        "routes": _routes(options.get(ROUTES, b"")),
    }


def _addresses(data):
    return [socket.inet_ntoa(data[at : at + 4]) for at in range(0, len(data) - 3, 4)]


def _routes(data):
    """RFC 3442: length, the bytes of the prefix that count, next hop."""
    found = []
    while data:
        length = data[0]
        size = (length + 7) // 8
        prefix = data[1 : 1 + size].ljust(4, b"\0")
        found.append({"to": f"{socket.inet_ntoa(prefix)}/{length}", "via": socket.inet_ntoa(data[1 + size : 5 + size])})
        data = data[5 + size :]
    return found
