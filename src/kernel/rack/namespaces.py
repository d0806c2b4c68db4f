"""
Network namespaces without a name: nothing but this process holds them, by open files, so they and everything in them are
gone when it ends, however it ends. A thread steps into one, makes sockets or starts a program there, and steps back;
a socket stays in the namespace it was made in. Nothing here ever acts in the namespace that the process began in.
"""

import contextlib
import ctypes
import fcntl
import os
import socket
import struct
import subprocess

CLONE_NEWNET = 0x40000000
_libc = ctypes.CDLL(None, use_errno=True)


def _own():
    return os.open("/proc/thread-self/ns/net", os.O_RDONLY | os.O_CLOEXEC)


_HOME = _own()


def _enter(namespace):
    if _libc.setns(namespace, CLONE_NEWNET) != 0:
        raise OSError(ctypes.get_errno(), "setns")


@contextlib.contextmanager
def inside(namespace):
    """What is made in here belongs to the namespace. Must not be left waiting inside."""
    _enter(namespace)
    try:
        yield
    finally:
        _enter(_HOME)


def make():
    """A new namespace with its loopback down, as an open file."""
    if _libc.unshare(CLONE_NEWNET) != 0:
        raise OSError(ctypes.get_errno(), "unshare")
    try:
        return _own()
    finally:
        _enter(_HOME)


def path(namespace):
    """A path by which other programs find it."""
    return f"/proc/{os.getpid()}/fd/{namespace}"


def write_settings(namespace, lines):
    """Lines `net/ipv4/ip_forward = 1`, as in sysctl.conf; a leading `-` means that a kernel may lack it."""
    with inside(namespace):
        for line in lines:
            name, value = (part.strip() for part in line.split("=", 1))
            try:
                with open(f"/proc/sys/{name.removeprefix('-')}", "w") as file:
                    file.write(value)
            except FileNotFoundError:
                if not name.startswith("-"):
                    raise


def run(namespace, command, text):
    """Runs a program there with a text as its input: `(status, what it said)`."""
    with inside(namespace):
        done = subprocess.run(command, input=text, text=True, capture_output=True, timeout=60, check=False)
    return done.returncode, done.stderr + done.stdout


def ready(namespace, running):
    """
    Whether these interfaces have a carrier, every one of those and of the bridges that speaks IPv6 has its link-local
    address, and no address is tentative.
    """
    with inside(namespace):
        with open("/proc/thread-self/net/if_inet6") as file:
            rows = [line.split() for line in file]
        carried = all(_is_running(name) for name in running)
        speaking = {name for name in os.listdir("/proc/sys/net/ipv6/conf") if _speaks6(name)}
    linked = {row[5] for row in rows if row[0].startswith("fe80")}
    return carried and speaking <= linked and not any(int(row[4], 16) & TENTATIVE for row in rows)


SIOCGIFFLAGS = 0x8913
UP_AND_RUNNING = 0x41
TENTATIVE = 0x40


def running(namespace, names):
    """Those of the interfaces that are switched on and have a carrier."""
    with inside(namespace):
        return [name for name in names if _is_running(name)]


def _speaks6(name):
    if name in ("all", "default", "lo"):
        return False
    with open(f"/proc/sys/net/ipv6/conf/{name}/disable_ipv6") as file:
        # A link without carrier gets its link-local address only once the cable is plugged.
        return file.read().strip() == "0" and _is_running(name)


def _is_running(name):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        answer = fcntl.ioctl(any_socket, SIOCGIFFLAGS, struct.pack("16sH14x", name.encode(), 0))
    return struct.unpack("16sH14x", answer)[1] & UP_AND_RUNNING == UP_AND_RUNNING
