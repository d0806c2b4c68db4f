"""
Programs that serve: started in a namespace with their configuration, ended with their site. They live in the
process namespace of this helper, so they end with it, too, however it ends.
"""

import os
import socket
import subprocess
import sys
import time

from namespaces import inside, running

PATIENCE_SECONDS = 5
TENTATIVE, DUPLICATE = 0x40, 0x08  # flags of an address, as the kernel counts them


def _name_root():
    """A machine of its own has nobody's name; dnsmasq wants to know whom it runs as."""
    for path, line in (("/etc/passwd", "root:x:0:0::/:\n"), ("/etc/group", "root:x:0:\n")):
        if not os.path.exists(path):
            with open(path, "w") as file:
                file.write(line)


class Servers:
    """Everything that serves on one site."""

    def __init__(self):
        self._running = []
        self._groups = []

    def start(self, namespace, text):
        """Starts a dnsmasq and waits until it serves; raises with what it said where it does not."""
        command = ["dnsmasq", "--keep-in-foreground", "--log-facility=-", "--conf-file=-"]
        _name_root()
        with inside(namespace):
            server = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
            )
        self._running.append(server)
        server.stdin.write(text)
        server.stdin.close()
        said = []
        deadline = time.monotonic() + PATIENCE_SECONDS
        for line in server.stderr:
            said.append(line)
            # It opens its sockets before it says so.
            if "DHCP" in line or "relay" in line:
                return
            if time.monotonic() > deadline:
                break
        raise RuntimeError(f"dnsmasq does not serve: {''.join(said)}\n{text}")

    def advertise(self, namespace, text, interfaces):
        """
        Starts a radvd and waits until it has advertised on each of its interfaces that has a carrier; raises with what it said
        where it does not, and returns it. What it reads and writes are files without a name, which go with it.
        """
        files = [_nameless(part) for part in (text, "", "")]
        told, pid, log = (f"/proc/self/fd/{file}" for file in files)
        command = ["radvd", "--nodaemon", "--debug", "5", "--logmethod", "logfile", "--logfile", log]
        command += ["--config", told, "--pidfile", pid]
        _name_root()
        waited = running(namespace, interfaces)
        with inside(namespace):
            router = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, pass_fds=files
            )
        self._running.append(router)
        said = ""
        try:
            deadline = time.monotonic() + PATIENCE_SECONDS
            while time.monotonic() < deadline:
                said = os.pread(files[2], 1 << 20, 0).decode("utf8", "replace")
                if all(f"sending RA to ff02::1 on {name} " in said for name in waited):
                    self._groups += _all_routers(namespace, waited)
                    return router
                if router.poll() is not None:
                    break
                time.sleep(0.02)
        finally:
            for file in files:
                os.close(file)
        raise RuntimeError(f"radvd does not advertise: {said}\n{text}")

    def end(self, server):
        """Ends one, which says nothing more."""
        self._running.remove(server)
        server.kill()
        server.wait()

    def take_leave(self, server):
        """Ends one, which says what it has to say at its end."""
        self._running.remove(server)
        server.terminate()
        server.wait(PATIENCE_SECONDS)

    def is_busy(self):
        """Whether one of them is at work, or has something to read."""
        return any(_works(server.pid) for server in self._running)

    def close(self):
        for server in self._running:
            server.kill()
            server.wait()
            if server.stderr:
                server.stderr.close()
        for group in self._groups:
            group.close()


def _works(pid):
    try:
        with open(f"/proc/{pid}/stat") as file:
            if file.read().rpartition(")")[2].split()[0] in "RD":
                return True
        with open(f"/proc/{pid}/net/udp") as file:
            queues = [line.split()[4] for line in file.readlines()[1:]]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return any(queue.partition(":")[2].strip("0") for queue in queues)


def _all_routers(namespace, interfaces):
    """Sockets that keep interfaces in the group of all routers, where who advertises stays (RFC 4861 section 6.2.2)."""
    groups = []
    with inside(namespace):
        for name in interfaces:
            group = socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)
            wanted = socket.inet_pton(socket.AF_INET6, "ff02::2") + socket.if_nametoindex(name).to_bytes(4, sys.byteorder)
            group.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_JOIN_GROUP, wanted)
            groups.append(group)
    return groups


def _nameless(text):
    file = os.memfd_create("radvd")
    os.fchmod(file, 0o600)  # it reads nothing that others may write
    os.write(file, text.encode())
    os.lseek(file, 0, os.SEEK_SET)
    return file


def has_tentative(namespace):
    """Whether an address of more than a link may not be used yet; one that somebody else has stays so."""
    with inside(namespace), open("/proc/thread-self/net/if_inet6") as file:
        entries = [line.split() for line in file]
    return any(
        int(scope, 16) == 0 and int(flags, 16) & (TENTATIVE | DUPLICATE) == TENTATIVE for _, _, _, scope, flags, _ in entries
    )
