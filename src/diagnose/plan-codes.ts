/**
 * Codes of plans: documents that read well but contradict themselves, each other or the rack.
 */

/** Codes raised where names are resolved and the plan is put together. */
export const PLAN_CODES = {
  "unknown-name": {
    explanation:
      "Nothing of this name exists where one is expected: no such device, port, network, set, role or interface. The message names the nearest one that does. Names are compared letter by letter; upper and lower case differ.",
    example: "cables:\n  - [edge:lan8, core:p1]",
  },
  "name-taken": {
    explanation:
      "Two things bear one name, so that a reference to it could mean either. Devices, networks and sets share one namespace across all files of a site. Rename one of them; the other place is shown.",
    example: "networks:\n  crew: { vlan: 30 }\nsets:\n  crew: [laptop]",
  },
  "port-cabled-twice": {
    explanation:
      "A port takes one cable, and this one appears in two. One of the lines is wrong, or a switch in between is missing from the topology.",
    example: "cables:\n  - [edge:lan1, core:p1]\n  - [edge:lan1, core:p2]",
  },
  "address-outside": {
    explanation:
      "The address does not lie in the network that it is given in, so the device could never be reached there. Either the address or the network's prefix is mistyped. A host number counts from the beginning of the prefix and must fit in it.",
    example:
      "networks:\n  crew: { ipv4: 10.71.30.0/24 }\ndevices:\n  edge: { interfaces: { crew: { network: crew, host: 300 } } }",
  },
  "setting-on-member": {
    explanation:
      "The port is a member of a bond, and members carry no settings of their own: tags, roles and addresses belong to the bond, which appears as one port. Move the setting to the bond's name, or take the port out of the bond.",
    example:
      "core:\n  bonds: { pair: { members: [p1, p2], mode: lacp } }\n  switching: { ports: { p1: { tagged: [crew] } } }",
  },
  "wrong-kind": {
    explanation:
      "The key or thing has no meaning on a device of this kind: radio networks on a host, switching on an unmanaged switch, a cable in a radio. It is refused rather than ignored. Either the device is of another kind, or the line belongs to another device.",
    example:
      "devices:\n  desk: { is: unmanaged-switch, ports: { p1..5: 1G } } # and in the intent: desk: { switching: {} }",
  },
  "no-vlan": {
    explanation:
      "A switch tells networks apart by their VLAN numbers, and this network has none. It can live on a port of its own only. Give the network a `vlan`, or let the interface name its `port`.",
    example:
      "networks:\n  rescue: { ipv4: 10.71.99.0/24 }\ndevices:\n  core: { switching: { ports: { p1: { untagged: rescue } } } }",
  },
  "no-footing": {
    explanation:
      "The interface stands on nothing: it names no port, and its device does not switch, so that there is no bridge to stand on. Name the `port`, or add `switching` to the device.",
    example: "devices:\n  edge: { interfaces: { crew: { network: crew, host: 1 } } }",
  },
  "interface-clash": {
    explanation:
      "Two interfaces of one device take the same frames: they stand on the same port with the same tag, or untagged both. Only one of them could ever receive anything. Give one of them a `tag` or another port; several addresses on one interface are a list.",
    example:
      "edge:\n  interfaces:\n    wan: { port: wan, ipv4: lease }\n    spare: { port: wan, ipv4: 198.51.100.7/24 }",
  },
  "no-address": {
    explanation:
      "An address is needed here, and what is named has none: no host number, no address, or only a lease that may be any of a pool. Give it a fixed address or a reservation, or write the address out.",
    example: "devices:\n  edge: { interfaces: { crew: { network: crew } }, dhcp: { crew: { hosts: 100-199 } } }",
  },
  "gateway-off-link": {
    explanation:
      "A next hop must be reached without passing another router: it lies in a prefix of one of the device's own interfaces and is not the device itself. Real stacks refuse such a route (kernel fact 10), so the plan could not be applied. Correct the address, or the prefix of the interface.",
    example: "laptop:\n  legs: { nic: { network: management, host: 50, gateway: 10.71.30.1 } }",
  },
  "set-loop": {
    explanation:
      "The set contains itself, directly or by way of other sets, so it has no definite members. Take one of the mentions out.",
    example: "sets:\n  staff: [office]\n  office: [staff, laptop]",
  },
  "ambiguous-leg": {
    explanation:
      "The device has several legs, and which of them is meant decides the answer. It is not guessed. Name the `leg`, or write `device/leg`.",
    example: "dhcp:\n  crew: { hosts: 100-199, reservations: { archive: { host: 20 } } }",
  },
  "vlan-shared": {
    severity: "warning",
    explanation:
      "Two networks have the same VLAN number. Switches cannot tell them apart: both are one segment, and what is said of one holds for the other. Two prefixes of one network are written as a list.",
    example: "networks:\n  crew: { vlan: 30 }\n  guests: { vlan: 30 }",
  },
  "prefix-shared": {
    severity: "warning",
    explanation:
      "The prefixes of two networks share addresses. A router with an interface in both sends such an address one way only, and which way is decided by the longer prefix. Devices accept it, so it is simulated.",
    example: "networks:\n  crew: { ipv4: 10.71.30.0/24 }\n  studio: { ipv4: 10.71.30.128/25 }",
  },
  "served-twice": {
    severity: "warning",
    explanation:
      "Two upstreams hand out the same public addresses. An address of the internet is at one place: each of them leads such an address to its own customers, and what comes from a third one is led to the longer prefix, of equal ones to the first. Give each upstream prefixes of its own; private and shared addresses may be handed out by several.",
    example:
      "devices:\n  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24 } } }\n  mobile: { hands-out: { mast: { ipv4: 203.0.113.128/25 } } }",
  },
  "equal-defaults": {
    severity: "warning",
    explanation:
      "A device has two default routes of one rank by different interfaces: two leases that each name a router, or a lease beside a written gateway, or two gateways. Which one it takes is decided by which came first, or last, and that may change when a cable is pulled or the device restarts. Here it is the written one, of two leases that of the interface whose line comes first. To prefer one, write `gateway: none` at the other interface and a route of its own with a `metric`, of which the lower wins: it is used while the preferred one is gone.",
    example:
      "edge:\n  interfaces: { fibre: { port: wan1, ipv4: lease }, mobile: { port: wan2, ipv4: lease } }\n# prefers the fibre\nedge:\n  interfaces: { fibre: { port: wan1, ipv4: lease }, mobile: { port: wan2, ipv4: lease, gateway: none } }\n  routes: [{ to: default, via: 192.0.2.1, metric: 100 }]",
  },
  "address-shared": {
    severity: "warning",
    explanation:
      "Two interfaces have the same address. IPv4 accepts it in silence (kernel fact 50): whoever answers first gets the packets, and it may be another one each minute. It is simulated as a choice that must come out right either way.",
    example:
      "devices:\n  laptop: { legs: { nic: { network: crew, host: 1 } } }\n  edge: { interfaces: { crew: { network: crew, host: 1 } } }",
  },
  "hardware-shared": {
    severity: "warning",
    explanation:
      "Two stations of one network have the same hardware address. Switches send what is for that address to whoever spoke last, so each of the two gets frames of the other, and they never hear one another. It comes of a copied virtual machine or a `mac` that was written twice. Give one of them another address.",
    example:
      'devices:\n  laptop: { legs: { nic: { network: crew, mac: "02:00:00:00:00:01" } } }\n  camera: { legs: { nic: { network: crew, mac: "02:00:00:00:00:01" } } }',
  },
  "address-special": {
    severity: "warning",
    explanation:
      "The address of the interface is the first or the last of its prefix. The last is the broadcast address (RFC 1812 section 4.2.3.1), the first was one once: some devices refuse either, others answer strangely. Choose an address in between.",
    example: "networks:\n  crew: { ipv4: 10.71.30.0/24 }\nedge:\n  interfaces: { crew: { network: crew, host: 255 } }",
  },
  "pool-covers-address": {
    severity: "warning",
    explanation:
      "The pool holds an address that an interface in this network has for itself, often the router's own. A server that does not ask first will lend it, and two stations then answer for one address. Begin the pool above it or end it below.",
    example: "dhcp:\n  crew: { hosts: 1-199, lease: 12h }",
  },
  "bond-uneven": {
    severity: "warning",
    explanation:
      "Members of a bond have unequal rates. By the standard they do not aggregate: one group of equal rate carries, the others wait. Some devices use them all the same, which overloads the slow one.",
    example: "edge:\n  bonds: { pair: { members: [lan1, fibre], mode: lacp } } # 1G and 10G",
  },
  "port-shared": {
    severity: "warning",
    explanation:
      "A port has two uses: it is switched or switched off, and an interface stands on it directly. Devices accept it: a tagged interface takes its VLAN before the bridge, an untagged one hears nothing (kernel fact 36). Let the interface stand on the bridge instead, or take the port out of `switching`.",
    example:
      "edge:\n  switching: { ports: { lan1: seat } }\n  interfaces: { crew: { network: crew, port: lan1, host: 1 } }",
  },
  "cable-idle": {
    severity: "warning",
    explanation:
      "A cable leads into a port that is switched off, or that no interface, bridge or bond uses, so nothing gets through it. Either it is in the wrong socket, or the port lacks its line in the intent. Ports of devices that are told nothing are passed over.",
    example:
      "cables:\n  - [laptop:nic, core:p8]\n# and in the intent\ncore: { switching: { unlisted: off, ports: { p1..4: seat } } }",
  },
  "bond-stray": {
    severity: "warning",
    explanation:
      "Cables of one bond lead into a bond of the other device, and one of them into a port beside it. That port does not belong to the aggregate: the member stays idle, or its frames arrive where nobody expects them. Move the cable, or add the port to the bond.",
    example:
      "cables:\n  - [edge:lan1, core:p1]\n  - [edge:lan2, core:p3]\n# and in the intent\nedge: { bonds: { pair: { members: [lan1, lan2], mode: lacp } } }\ncore: { bonds: { pair: { members: [p1, p2], mode: lacp } } }",
  },
  "bond-alone": {
    severity: "warning",
    explanation:
      "Every cable of a bond leads into a port that is no member of any bond at the other end. With LACP the members find no partner: at most one of them carries, or none (IEEE 802.1AX, from memory). Without it the far switch sees one station on two ports, and its frames jump between them or go round. Bond the ports at the other end, too.",
    example:
      "edge: { bonds: { pair: { members: [lan1, lan2], mode: lacp } } }\ncore: { switching: { ports: { p1: uplink, p2: uplink } } }",
  },
  "tunnel-one-sided": {
    severity: "warning",
    explanation:
      "A tunnel needs both ends to know each other, and the far one does not list this one among its peers. Devices accept it in silence: outer packets are sent and nobody answers. It is simulated as a tunnel that never comes up. Add the peer at the far end, or correct the name.",
    example:
      "edge: { tunnels: { link: { peers: { hill/link: { endpoint: 203.0.113.9, allowed: [10.80.0.0/16] } } } } }\nhill: { tunnels: { link: { listen: 4701, peers: { depot/link: { allowed: [10.71.0.0/16] } } } } }",
  },
  "tunnel-portless": {
    severity: "warning",
    explanation:
      "Outer packets are to be sent to an end of a tunnel that states no UDP port, so nobody knows where to send them. Such an end can only start by itself. State its `listen`, or let the other side start.",
    example:
      "edge: { tunnels: { link: { peers: { hill/link: { endpoint: 203.0.113.9, allowed: [10.80.0.0/16] } } } } }\nhill: { tunnels: { link: { peers: { edge/link: { allowed: [10.71.0.0/16] } } } } }",
  },
  "lease-unknown": {
    severity: "warning",
    explanation:
      "A rule speaks of a device whose address comes from a lease without a reservation. Nobody can say which address it will be, so the rule is taken for the whole pool, as is every verdict that rests on it. Reserve an address for the device.",
    example: "filter: { through: { otherwise: drop, rules: [{ name: desk, source: laptop, action: accept }] } }",
  },
  "reservation-taken": {
    severity: "error",
    explanation:
      "The reserved address is one that a station of this network has for itself, often the router. Whoever is lent it finds it in use, and some servers refuse to start with such a list (common practice). Reserve an address that nobody has.",
    example:
      "edge:\n  interfaces: { crew: { network: crew, host: 1 } }\n  dhcp: { crew: { hosts: 100-199, reservations: { camera: { host: 1 } } } }",
  },
  "reservation-shared": {
    severity: "error",
    explanation:
      "Two reservations cannot both be kept: they keep one address for two clients, or two addresses for one hardware address. Some servers refuse to start with such a list, others keep one of the two and say nothing. Give each client one address of its own; one device that comes by cable or by radio may have one for both.",
    example: "dhcp:\n  crew: { hosts: 100-199, reservations: { camera: { host: 30 }, sensor: { host: 30 } } }",
  },
  "reservation-unmatched": {
    severity: "warning",
    explanation:
      "The reservation can never match: the client shows a private hardware address instead of the one that is kept, is on no leg of this network, or has a written address and asks for none. A client that asks gets an address of the pool like everybody. Fix its address on the client, or drop the reservation.",
    example: "phone: { joins: Guest, legs: { wlan: { ipv4: lease, mac: private } } }",
  },
  "ssid-nowhere": {
    severity: "warning",
    explanation:
      "No access point of the site offers an SSID of this name, so the client stays alone. Names of SSIDs are compared letter by letter. Offer it under `ssids` of an access point, or correct the name.",
    example: "phone: { joins: Guests }",
  },
  "radio-idle": {
    severity: "warning",
    explanation:
      "A leg of a host stands on a radio, and the host joins no SSID, so it is on no network. Write the SSIDs that it knows under `joins`, the one it likes best first.",
    example: "phone: { legs: { wlan: lease } } # without `joins`",
  },
  "trust-idle": {
    severity: "warning",
    explanation:
      "A host is said to be alone at a cable, and nothing comes of it: no cable is in that port, or the cable leads to an unmanaged switch, where anybody can plug in beside it. What anybody might send is asked about as if nothing had been said. Name the port that the cable is in, or cable the host to a managed switch.",
    example: "cables:\n  - [core:p10, archive:a]\n# and in the intent\narchive: { trusted: [b] }",
  },
  "not-delegated": {
    severity: "warning",
    explanation:
      "A prefix is asked for and nobody delegates one, so the networks that are cut from it have none. Either no upstream is reached from the interface, or what it hands out there lacks `delegates`, or the network names an interface that asks for nothing.",
    example:
      'carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64" } } } # no `delegates: 56`\nedge: { interfaces: { wan: { port: wan, ipv6: delegated } } }',
  },
  "not-modelled": {
    severity: "warning",
    explanation:
      "The document uses something that this version does not model, so no verdict takes it into account. It is said aloud rather than passed over, because silence would look like approval. Verdicts that depend on it are reported as undecided where this can be told.",
    example: "devices:\n  edge: { ospf: { area: 0 } }",
  },
} as const;
