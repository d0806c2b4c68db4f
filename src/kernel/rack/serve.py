"""
Programs that serve: started in a namespace with a configuration as their input, ended with their site. They live in the
process namespace of this helper, so they end with it, too, however it ends.
"""

import os
import subprocess
import time

from namespaces import inside

PATIENCE_SECONDS = 5


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

    def close(self):
        for server in self._running:
            server.kill()
            server.wait()
            server.stderr.close()
