"""Headers of the packets that are made and seen here: IPv4, IPv6, TCP, UDP and ICMP, as far as probes need them."""

import socket
import struct

TCP, UDP, ICMP, ICMPV6 = 6, 17, 1, 58
SYN, ACK = 2, 16
MAXIMUM_SEGMENT_SIZE = 2  # kind of a TCP option
ECHO_REQUEST = {4: 8, 6: 128}
ECHO_REPLY = {4: 0, 6: 129}


def family_of(address):
    return 6 if ":" in address else 4


def socket_family(family):
    return socket.AF_INET if family == 4 else socket.AF_INET6


def any_address(family):
    return "0.0.0.0" if family == 4 else "::"


def checksum(data):
    """RFC 1071."""
    if len(data) % 2:
        data += b"\0"
    total = sum(struct.unpack(f"!{len(data) // 2}H", data))
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return ~total & 0xFFFF


def echo_request(family, identifier, payload):
    """An echo request; the kernel fills in the checksum of ICMPv6."""
    head = struct.pack("!BBHHH", ECHO_REQUEST[family], 0, 0, identifier, 1)
    if family == 6:
        return head + payload
    return head[:2] + struct.pack("!H", checksum(head + payload)) + head[4:] + payload


def split_ipv4(packet):
    """`(source, destination, protocol, body)` of an IPv4 packet."""
    length = (packet[0] & 15) * 4
    source, destination = socket.inet_ntoa(packet[12:16]), socket.inet_ntoa(packet[16:20])
    return source, destination, packet[9], packet[length:]


def segment_size(token):
    """
    The largest segment that the connection of a probe offers to take. It tells its first packet from those of others,
    whatever translation makes of addresses and ports; all sizes are smaller than what a link could ask for.
    """
    return 600 + int(token) % 500


def offered_size(options):
    """What a TCP header offers to take (RFC 9293 section 3.7.1); None: it does not say."""
    while len(options) > 1 and options[0] != 0:
        length = 1 if options[0] == 1 else max(2, options[1])
        if options[0] == MAXIMUM_SEGMENT_SIZE and len(options) >= 4:
            return struct.unpack("!H", options[2:4])[0]
        options = options[length:]
    return None


def describe(protocol, body):
    """What a transport header says, as a dictionary; empty for what is cut short."""
    if protocol in (TCP, UDP) and len(body) >= 8:
        source, destination = struct.unpack("!HH", body[:4])
        found = {"ports": [source, destination]}
        if protocol == UDP:
            return {**found, "payload": body[8:]}
        if len(body) < 20:
            return {}
        length = (body[12] >> 4) * 4
        return {**found, "flags": body[13], "options": body[20:length], "payload": body[length:]}
    if protocol in (ICMP, ICMPV6) and len(body) >= 8:
        return {"icmp": [body[0], body[1]], "payload": body[8:]}
    return {}
