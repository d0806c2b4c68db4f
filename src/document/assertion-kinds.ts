/**
 * The kinds of assertions: what each demands, for `explain` and for reports that list rules. The keys of one tell its kind.
 */

/** What is said of one kind. */
export type AssertionKindEntry = {
  /** Two to four sentences: what it demands, how it is judged. */
  readonly explanation: string;
  /** An assertion of the kind, as one would write it. */
  readonly example: string;
};

const KINDS = {
  connects: {
    explanation:
      "A whole exchange works, from every source to every target: the request arrives, the answer comes back, data flows. It is followed packet by packet, under every bond member, path and server that may be taken. One version of IP is enough unless `family` says otherwise. It does not say that nothing else gets through.",
    example: "- { name: the crew opens the web, from: crew, to: internet, service: tcp/443, expect: connects }",
  },
  arrives: {
    explanation:
      "The request reaches the far end, whatever bond member or path is taken. Nothing is said of the answer: that is for traffic that goes one way, or whose answers take another way.",
    example: "- { name: logs are delivered, from: edge, to: archive, service: udp/514, expect: arrives }",
  },
  blocked: {
    explanation:
      "No packet that the source begins arrives, whatever addresses, ports and tags its sender writes into it. It is proved over all packets, never sampled. From a network whoever could plug in at any port that carries it is meant, but at the cable of a host that is `trusted`. What is sent to an address gets there, too, where whoever has it forwards it elsewhere. A pass that says nothing, since nobody is there or the source reaches nothing at all, is `vacuous`, and fails.",
    example: "- { name: visitors cannot reach management, from: visitors, to: management, expect: blocked }",
  },
  only: {
    explanation:
      "Exactly these services are open: each of them connects, and no packet of any other arrives. It joins `connects` and `blocked` in one assertion, and is proved over all packets. Of an address from which something is forwarded they are the services that are sent to it, not those that they are forwarded to.",
    example: "- { name: only the files, from: crew, to: archive, service: tcp/445, expect: only }",
  },
  resolves: {
    explanation:
      "Names are resolved: of the resolvers that a source was told, by its lease, by advertisements or in the plan, one answers on `udp/53`, and it reaches one of those whom it forwards to, down to the internet or, with `looks-up`, to whoever has that name. Each exchange is followed as that of `connects` is. No look-up is bound to an address or a leg: whoever is named by one asks as that device, from whichever of its addresses. The first one that answers is believed. Whoever is asked in vain while another one answers is told under what the verdict rests on, and so is where `tcp/53` fails.",
    example: "- { name: visitors look names up, from: visitors, expect: resolves }",
  },
  policy: {
    explanation:
      "Who may speak to whom, as a table. Each cell is judged for all packets: what is written in `open` is open and nothing else is, and what nobody wrote is blocked.",
    example:
      "- name: who may speak to whom\n  policy: { from: [crew, visitors], to: [management, edge], open: { crew: { edge: udp/53 } } }",
  },
  lease: {
    explanation:
      "A client is given a lease by DHCP, with such an address, router and resolvers, from such a server. The whole exchange is followed, relays and filters on its way included, with every server that may win. `address: none` demands that no lease comes.",
    example: "- name: a phone gets a lease\n  lease: { client: phone, address: 10.71.40.100-199, router: 10.71.40.1 }",
  },
  segment: {
    explanation:
      "Exactly these edge ports carry the network, and no other one does. It is worked out from tags, bonds and spanning tree as they settle, whether anything is plugged in or not.",
    example: "- name: the studio has two sockets\n  segment: { network: studio, ports: [core:p10, core:p12] }",
  },
} as const;

/** Every kind. */
export type AssertionKind = keyof typeof KINDS;

/** The kinds, in the order people meet them. */
export const ASSERTION_KINDS: Readonly<Record<AssertionKind, AssertionKindEntry>> = KINDS;

/** Whether a word, typed by a person after `explain`, is a kind of assertion. */
export function isAssertionKind(word: string): word is AssertionKind {
  return Object.hasOwn(ASSERTION_KINDS, word);
}
