/**
 * Codes of single values: addresses, numbers, ranges, services, times, rates.
 */

/** Codes raised where one written value cannot be read as what its key asks for. */
export const VALUE_CODES = {
  "bad-name": {
    explanation:
      "Names consist of letters, digits, `-`, `_` and `.`; names of ports may also hold `/`. A name never holds `:` or `#`, because `device:port` and `file#assertion` use these to join names. Rename the entry. What `looks-up` asks for is a name as well, never an address.",
    example: 'devices:\n  "edge:1": { is: router }',
  },
  "bad-address": {
    explanation:
      "This is not an IP address in its standard text form. IPv4 has four decimal numbers without leading zeros (a leading zero means octal to some programs and nothing to others); IPv6 follows RFC 4291 section 2.2, with `::` once at most and no zone. Nothing is filled in or guessed.",
    example: "devices:\n  laptop: { legs: { nic: { network: crew, gateway: 10.71.30.01 } } }",
  },
  "bad-prefix": {
    explanation:
      "A prefix is an address, a slash and a length: 0 to 32 for IPv4, 0 to 128 for IPv6, such as `10.71.30.0/24`. Where a whole network is meant, the bits behind the length are zero; the message names the network that the address lies in.",
    example: "networks:\n  crew: { ipv4: 10.71.30.0/33 }",
  },
  "bad-range": {
    explanation:
      "This is not a range as this key asks for one. Numbers are written `100-199`, ports of a device `p1..24`, lists of VLANs `1,10-100,250`. Both ends belong to the range.",
    example: "dhcp:\n  crew: { hosts: 100-, lease: 12h }",
  },
  "range-backwards": {
    explanation:
      "The range ends before it begins, so it holds nothing. Most likely its ends are swapped. Write the smaller one first; a range of one is written as the single value.",
    example: "devices:\n  core: { is: switch, ports: { p24..1: 1G } }",
  },
  "ranges-overlap": {
    explanation:
      "Two ranges that must be separate share a member, so that two settings would apply to it, or a list that must ascend does not. Which one wins is never guessed. Shorten one of them.",
    example: "devices:\n  core: { is: switch, ports: { p1..24: 1G, p20..28: 10G } }",
  },
  "bad-vlan": {
    explanation:
      "A VLAN number lies between 1 and 4094. The values 0 and 4095 fit in the tag but are reserved by IEEE 802.1Q: 0 marks a frame that carries a priority only, 4095 is never sent. Choose another number.",
    example: "networks:\n  crew: { vlan: 4095 }",
  },
  "bad-service": {
    explanation:
      "A service is written as protocol and number: `tcp/443`, `udp/67`, `tcp/8000-8080`, `icmp/echo-request`, or a protocol alone such as `gre`. Ports are 0 to 65535. Several services are a list of them.",
    example: "archive:\n  serves: { 443/tcp: all }",
  },
  "bad-duration": {
    explanation:
      "This is not a length of time. Write a whole number and a unit: `ms`, `s`, `m`, `h` or `d`, as in `12h`.",
    example: "dhcp:\n  crew: { hosts: 100-199, lease: half a day }",
  },
  "bad-rate": {
    explanation:
      "This is not a rate. Write a number and a unit as it is printed on the port: `100M`, `1G`, `2.5G`, `10G`, in bits per second.",
    example: "devices:\n  core: { is: switch, ports: { p1..24: fast } }",
  },
  "bad-size": {
    explanation:
      "This is not a size. Write a whole number of bytes; where the key allows larger ones, with the unit that the message names.",
    example: "edge:\n  interfaces: { crew: { network: crew, host: 1, mtu: large } }",
  },
  "unit-missing": {
    explanation:
      "The number stands alone, and this key does not assume a unit: `12` could be seconds, minutes or hours. Write the unit behind the number without a space.",
    example: "dhcp:\n  crew: { hosts: 100-199, lease: 12 }",
  },
  "bad-hardware": {
    explanation:
      "A hardware (MAC) address is six pairs of hexadecimal digits, joined by `:` or `-`, such as `52:54:00:12:34:56`. An address of a device is never a group address: the lowest bit of its first byte is 0.",
    example: "devices:\n  laptop: { is: host, ports: { nic: 1G }, mac: 52:54:00 }",
  },
  "bad-number": {
    explanation:
      "This key takes a whole number within certain bounds, which the message names, or in certain steps. It is written in decimal digits without sign, leading zeros or separators.",
    example: "core:\n  switching: { spanning-tree: { priority: 4097 } }",
  },
  "bad-reference": {
    explanation:
      "The text does not have the form that names a thing here. A port of a device is written `device:port`, a leg of a host or an interface of a device `device/leg`.",
    example: "cables:\n  - [edge, core:p1]",
  },
} as const;
