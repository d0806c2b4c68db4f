"""
What a kernel has learned, forgotten: connections (through its own message for that, since the program may be absent),
neighbours, and the stations of bridges.
"""

import socket
import struct

from links import Links
from namespaces import inside

NETLINK_NETFILTER = 12
DELETE_CONNECTIONS = 0x0102  # NFNL_SUBSYS_CTNETLINK and IPCTNL_MSG_CT_DELETE; without attributes: all of them
REQUEST = 1


def forget(namespace):
    """All of it, in one namespace."""
    with inside(namespace):
        line = socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, NETLINK_NETFILTER)
    with line:
        line.send(struct.pack("=IHHIIBBH", 20, DELETE_CONNECTIONS, REQUEST, 1, 0, socket.AF_UNSPEC, 0, 0))
    with Links(namespace) as links:
        links.forget_stations()
        links.forget_neighbours()
