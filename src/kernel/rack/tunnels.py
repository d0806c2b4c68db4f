"""
The kernel's own tunnels: keys are made here, once for each end, and never leave this process and the kernel.
"""

import subprocess
import time

import namespaces

PATIENCE_SECONDS = 15


def _tool(namespace, *words, text=""):
    """What the tool answers; of a failure only its complaint is told, so that no key ever is."""
    with namespaces.inside(namespace):
        done = subprocess.run(["wg", *words], input=text, text=True, capture_output=True, timeout=60, check=False)
    if done.returncode != 0:
        raise OSError(f"wg {words[0]} ended with {done.returncode}: {done.stderr.strip()}")
    return done.stdout.strip()


def raise_tunnels(site, ends):
    """Gives every end its key and its peers."""
    secret, public = {}, {}
    for end in ends:
        namespace = site.namespaces[end["device"]]
        secret[end["id"]] = _tool(namespace, "genkey")
        public[end["id"]] = _tool(namespace, "pubkey", text=secret[end["id"]] + "\n")
    for end in ends:
        namespace = site.namespaces[end["device"]]
        port = ["listen-port", str(end["port"])] if "port" in end else []
        _tool(namespace, "set", end["name"], *port, "private-key", "/proc/self/fd/0", text=secret[end["id"]] + "\n")
    for end in ends:
        for peer in end["peers"]:
            if peer["to"] not in public:
                continue
            where = ["endpoint", peer["endpoint"], "persistent-keepalive", "1"] if "endpoint" in peer else []
            allowed = ["allowed-ips", ",".join(peer["allowed"])]
            _tool(site.namespaces[end["device"]], "set", end["name"], "peer", public[peer["to"]], *where, *allowed)


def wait_for_tunnels(site, ends):
    """Waits until every peer was heard, or for as long as an end that starts goes on trying a few times."""
    for _ in range(PATIENCE_SECONDS * 4):
        if all(_is_heard(site.namespaces[end["device"]], end["name"]) for end in ends):
            return
        time.sleep(0.25)


def _is_heard(namespace, name):
    said = _tool(namespace, "show", name, "latest-handshakes")
    return all(line.split()[-1] != "0" for line in said.splitlines())
