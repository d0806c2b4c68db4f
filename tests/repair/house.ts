/**
 * A lighthouse with a visitors' room: one router, one switch, keepers and guests, a lamp controller, and a boathouse behind a
 * second router. It passes its assertions; tests break one line of it.
 */
import { type Plan, planIn } from "./repairing.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  mast:   { is: upstream, ports: { drop: 1G } }
  tower:  { is: router, ports: { wan: 1G, lan: 1G, quay: 1G } }
  cabin:  { is: switch, ports: { p1..6: 1G } }
  keeper: { is: host, ports: { nic: 1G } }
  lamp:   { is: host, ports: { nic: 1G } }
  guest:  { is: host, ports: { nic: 1G } }
  store:  { is: router, ports: { up: 1G, in: 1G } }
  winch:  { is: host, ports: { nic: 1G } }
cables:
  - [mast:drop, tower:wan]
  - [tower:lan, cabin:p1]
  - [cabin:p2, keeper:nic]
  - [cabin:p3, lamp:nic]
  - [cabin:p4, guest:nic]
  - [tower:quay, store:up]
  - [store:in, winch:nic]
`;

const INTENT = `dryrack: intent/1
networks:
  watch:  { vlan: 10, ipv4: 10.88.10.0/24 }
  light:  { vlan: 20, ipv4: 10.88.20.0/24 }
  guests: { vlan: 30, ipv4: 10.88.30.0/24 }
  quay:   { ipv4: 10.88.40.0/24 }
  boats:  { ipv4: 10.88.50.0/24 }
devices:
  mast:
    hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } }
  tower:
    switching:
      unlisted: "off"
      ports:
        lan: { tagged: [watch, light, guests], admit: tagged }
      own: { tagged: [watch, light, guests] }
    interfaces:
      wan:    { port: wan, ipv4: lease }
      watch:  { network: watch, host: 1 }
      light:  { network: light, host: 1 }
      guests: { network: guests, host: 1 }
      quay:   { network: quay, port: quay, host: 1 }
    reverse-path: strict
    routes:
      - { to: boats, via: 10.88.40.2 }   # by the store
    dhcp:
      guests: { hosts: 100-199 }
      boats:  { hosts: 100-199, router: store/in }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: first leases, in: guests, dest: 255.255.255.255, service: udp/67, action: accept }
          - { name: guest leases, in: guests, dest: tower/guests, service: udp/67, action: accept }
          - { name: boat leases, in: quay, source: boats, dest: tower/quay, service: udp/67, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          # the lamp listens to the watch alone
          - { name: the watch turns the lamp, in: watch, out: light, service: tcp/502, action: accept }
          - { name: the lamp is left alone, out: light, action: drop }
          - { name: the watch goes everywhere, in: watch, action: accept }
          - { name: guests go out, in: guests, out: wan, action: accept }
    translate:
      source: [ { name: behind one address, family: ipv4, out: wan, to: external-address } ]
  cabin:
    switching:
      unlisted: "off"
      ports:
        p1: { tagged: [watch, light, guests], admit: tagged }
        p2: { untagged: watch, admit: untagged }
        p3: { untagged: light, admit: untagged }
        p4: { untagged: guests, admit: untagged }
  keeper: { legs: { nic: { network: watch, host: 10, gateway: 10.88.10.1 } } }
  lamp:   { legs: { nic: { network: light, host: 10, gateway: 10.88.20.1 } }, serves: { tcp/502: all } }
  guest:  { legs: { nic: lease } }
  store:
    interfaces:
      up: { network: quay, port: up, host: 2 }
      in: { network: boats, port: in, host: 1 }
    routes:
      - { to: default, via: 10.88.40.1 }
    relay: { in: { to: tower/quay } }
  winch:  { legs: { nic: lease }, serves: { tcp/23: all } }
`;

const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: the watch turns the lamp, from: keeper, to: lamp, service: tcp/502, expect: connects }
  - { name: the lamp is open to nothing else, from: watch, to: light, service: tcp/502, expect: only }
  - { name: guests leave the lamp alone, from: guests, to: light, expect: blocked }
  - { name: guests leave the watch alone, from: guests, to: watch, expect: blocked }
  - { name: guests go out, from: guest, to: internet, service: tcp/443, expect: connects }
  - { name: the watch works the winch, from: keeper, to: winch, service: tcp/23, expect: connects }
  - { name: a guest gets a lease, lease: { client: guest, address: 10.88.30.100-199 } }
  - { name: the winch gets a lease, lease: { client: winch, address: 10.88.50.100-199, router: store/in } }
  - { name: guests have one socket, segment: { network: guests, ports: [cabin:p4] } }
`;

/** The sound plan with pieces of text changed, each of which stands in it once. */
export function lighthouse(...changes: readonly (readonly [find: string, replace: string])[]): Plan {
  const change = (text: string): string =>
    changes.reduce((done, [find, replace]) => (done.includes(find) ? done.replace(find, () => replace) : done), text);
  for (const [find] of changes) {
    const count = [TOPOLOGY, INTENT, ASSERTIONS].reduce((sum, text) => sum + text.split(find).length - 1, 0);
    if (count !== 1) throw new Error(`not once: ${find}`);
  }
  return planIn([change(TOPOLOGY), change(INTENT)], change(ASSERTIONS));
}
