"""
Ears at every interface of a site: each frame that came in or went out while one probe ran, in words. Bridges are left out,
since their ports are heard themselves.
"""

import asyncio
import ctypes
import fcntl
import socket
import struct

from namespaces import inside
from packets import ACK, ICMP, ICMPV6, SYN, TCP, UDP, describe, split_ipv4

ETH_P_ALL = 3
SIOCETHTOOL = 0x8946
ETHTOOL_GDRVINFO = 3
DRVINFO_BYTES = 196
OUTGOING = 4
ARP, IPV4, IPV6 = 0x0806, 0x0800, 0x86DD
# Neighbour discovery is told like ARP; other ICMPv6 of that block goes on all the time.
SOLICITATION, ADVERTISEMENT = 135, 136
NOISE = (130, 131, 132, 133, 134, 143)


class Watcher:
    """All frames of one site while it is open."""

    def __init__(self, namespaces):
        self.seen = []
        self._sockets = []
        for device, namespace in namespaces.items():
            with inside(namespace):
                ear = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(ETH_P_ALL))
                bridges = {name for _, name in socket.if_nameindex() if _is_bridge(ear, name)}
            ear.setblocking(False)
            entry = (ear, device, bridges)
            self._sockets.append(entry)
            asyncio.get_running_loop().add_reader(ear, self._read, entry)

    def _read(self, entry):
        ear, device, bridges = entry
        while True:
            try:
                frame, (name, _protocol, kind, _type, _hardware) = ear.recvfrom(65535)
            except OSError:
                return
            what = describe_frame(frame)
            if what and name != "lo" and name not in bridges:
                self.seen.append({"device": device, "interface": name, "out": kind == OUTGOING, "what": what})

    def close(self):
        """Everything seen, in order."""
        for entry in self._sockets:
            self._read(entry)
            asyncio.get_running_loop().remove_reader(entry[0])
            entry[0].close()
        return self.seen


def _is_bridge(ear, name):
    """By the name of its driver."""
    answer = ctypes.create_string_buffer(struct.pack("I", ETHTOOL_GDRVINFO), DRVINFO_BYTES)
    try:
        fcntl.ioctl(ear, SIOCETHTOOL, struct.pack("16sP", name.encode(), ctypes.addressof(answer)))
    except OSError:
        return False
    return answer.raw[4:36].rstrip(b"\0") == b"bridge"


def describe_frame(frame):
    """What a frame is, in words; empty for what is none of a probe's affair."""
    kind = struct.unpack("!H", frame[12:14])[0]
    body = frame[14:]
    if kind == ARP and len(body) >= 28:
        operation = struct.unpack("!H", body[6:8])[0]
        sender, target = socket.inet_ntoa(body[14:18]), socket.inet_ntoa(body[24:28])
        return f"{sender} asks who has {target}" if operation == 1 else f"{sender} answers {target} by ARP"
    if kind == IPV4 and len(body) >= 20:
        source, destination, protocol, rest = split_ipv4(body)
        return f"{_transport(protocol, rest)} {source} to {destination}"
    if kind == IPV6 and len(body) >= 40:
        source, destination = socket.inet_ntop(socket.AF_INET6, body[8:24]), socket.inet_ntop(socket.AF_INET6, body[24:40])
        rest = body[40:]
        if body[6] == ICMPV6 and rest and rest[0] in NOISE:
            return ""
        if body[6] == ICMPV6 and rest and rest[0] == SOLICITATION:
            return f"{source} asks who has {socket.inet_ntop(socket.AF_INET6, rest[8:24])}"
        if body[6] == ICMPV6 and rest and rest[0] == ADVERTISEMENT:
            return f"{source} answers {destination} by neighbour discovery"
        return f"{_transport(body[6], rest)} {source} to {destination}" if body[6] else ""
    return ""


def _transport(protocol, body):
    facts = describe(protocol, body)
    ports = ">".join(str(port) for port in facts.get("ports", []))
    if protocol == TCP:
        return f"TCP {_flags(facts.get('flags', 0))} {ports}"
    if protocol == UDP:
        return f"UDP {ports}"
    if protocol in (ICMP, ICMPV6):
        return "ICMP " + "/".join(str(number) for number in facts.get("icmp", []))
    return f"protocol {protocol}"


def _flags(bits):
    names = ("FIN", 1), ("SYN", SYN), ("RST", 4), ("PSH", 8), ("ACK", ACK)
    return "+".join(name for name, bit in names if bits & bit)
