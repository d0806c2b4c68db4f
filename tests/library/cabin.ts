/**
 * A small site of texts for the library's tests: a router, staff and guests, a printer among the staff.
 */

/** What is racked and cabled. */
export const TOPOLOGY = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  router:  { is: router, ports: { wan: 1G, lan1..3: 1G } }
  desk:    { is: host, ports: { nic: 1G } }
  printer: { is: host, ports: { nic: 1G } }
  tablet:  { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, router:wan]
  - [router:lan1, desk:nic]
  - [router:lan2, tablet:nic]
  - [router:lan3, printer:nic]
`;

/** What it is told. */
export const INTENT = `dryrack: intent/1
networks:
  staff:  { vlan: 10, ipv4: 10.90.10.0/24 }
  guests: { vlan: 20, ipv4: 10.90.20.0/24 }
  spare:  { vlan: 30, ipv4: 10.90.30.0/24 }
sets:
  nobody: []
devices:
  carrier:
    hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } }
  router:
    switching:
      unlisted: "off"
      ports:
        lan1: { untagged: staff, admit: untagged }
        lan2: { untagged: guests, admit: untagged }
        lan3: { untagged: staff, admit: untagged }
      own: { tagged: [staff, guests] }
    interfaces:
      wan:    { port: wan, ipv4: lease }
      staff:  { network: staff, host: 1 }
      guests: { network: guests, host: 1 }
    reverse-path: strict
    dhcp: { staff: { hosts: 100-199 }, guests: { hosts: 100-199 } }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: first leases, in: [staff, guests], dest: 255.255.255.255, service: udp/67, action: accept }
          - { name: staff leases, in: staff, dest: router/staff, service: udp/67, action: accept }
          - { name: guest leases, in: guests, dest: router/guests, service: udp/67, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: staff go out, in: staff, out: wan, action: accept }
    translate:
      source: [ { name: behind one address, family: ipv4, out: wan, to: external-address } ]
  desk:    { legs: { nic: lease } }
  printer: { legs: { nic: { network: staff, host: 20 } }, serves: { tcp/631: all } }
  tablet:  { legs: { nic: lease } }
`;

/** What must hold of it. */
export const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: the desk prints, from: desk, to: printer, service: tcp/631, expect: connects }
  - { name: guests stay away from staff, from: guests, to: staff, expect: blocked }
  - name: the tablet gets a lease
    lease: { client: tablet, address: 10.90.20.100-199 }
`;

/** All of it, by name. */
export const CABIN: { readonly [name: string]: string } = {
  "topology.yaml": TOPOLOGY,
  "intent.yaml": INTENT,
  "assertions.yaml": ASSERTIONS,
};

/** A rule of the list, and what it becomes where it lets guests in. */
export const SLIP = ["in: staff, out: wan", "in: [staff, guests]"] as const;
