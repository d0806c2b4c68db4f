"""What the kernel says of bonds at rest."""

import re

from namespaces import inside


def carrying(namespace, name):
    """Members that carry, in their order: those of the group in use by LACP, the active one, or all that are up."""
    with inside(namespace), open(f"/proc/thread-self/net/bonding/{name}") as file:
        head, *members = file.read().split("Slave Interface: ")
    group = re.search(r"\tAggregator ID: (\d+)", head)
    active = re.search(r"Currently Active Slave: (\S+)", head)
    return [
        text.split()[0]
        for text in members
        if "MII Status: up" in text
        and (group is None or re.search(rf"^Aggregator ID: {group[1]}$", text, re.MULTILINE))
        and (active is None or active[1] == text.split()[0])
    ]
