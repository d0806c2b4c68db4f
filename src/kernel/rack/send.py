"""Packets made by hand: sent through the device's own stack, so past its output rules, whatever their source says."""

import contextlib
import socket

from namespaces import inside


def send_packet(namespace, packet, egress=None):
    """Sends a whole IP packet, header included, where its destination is routed."""
    six = packet[0] >> 4 == 6
    with inside(namespace):
        out = socket.socket(socket.AF_INET6 if six else socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_RAW)
    out.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
    # What the stack refuses at once did not leave; that nothing arrives tells it.
    with out, contextlib.suppress(OSError):
        if egress:
            out.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, egress.encode())
        if six:
            out.sendto(packet, (socket.inet_ntop(socket.AF_INET6, packet[24:40]), 0, 0, 0))
        else:
            out.sendto(packet, (socket.inet_ntoa(packet[16:20]), 0))


def send_frame(namespace, interface, frame):
    """Puts a whole frame on the wire at an interface, past the device's stack."""
    with inside(namespace):
        out = socket.socket(socket.AF_PACKET, socket.SOCK_RAW)
        out.bind((interface, 0))
    # On a link that is down nothing arrives; that tells it.
    with out, contextlib.suppress(OSError):
        out.send(frame)
