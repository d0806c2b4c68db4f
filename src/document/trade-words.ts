/**
 * Words that stand in reports and in talk about networks, and are no words of the documents: what each means, and which
 * words of the documents to ask for next. What is said of the trade is common practice.
 */

/** What is said of one word. */
export type TradeWord = {
  /** One to three sentences. */
  readonly says: string;
  /** Words that `explain` knows, for whoever wants to write it. */
  readonly see: readonly string[];
};

const REPORTS = {
  packet: {
    says: "The packet that a verdict is shown by: of all that break an assertion the smallest one. `packet:` tells what it is for, whom from and to, and where it is sent; `after:` what had to be sent before it.",
    see: ["broken", "connection"],
  },
  way: {
    says: "What becomes of a packet, step by step and device by device. The last step says where it ended. `draw SITE --assertion NAME` lights it in the picture.",
    see: ["packet", "through", "avoids", "routed"],
  },
  assumption: {
    says: "What a verdict takes for granted, since no plan says it: that addresses of the internet answer every service, for instance. Assumptions stand under `this rests on`; look through them, since a verdict is worth as much as they are.",
    see: ["kept", "trusted"],
  },
  repair: {
    says: "A single edit of the plan that makes an assertion hold which does not, and no other one worse: `check --repair` looks for it. It is a suggestion: nobody but you knows what was meant.",
    see: ["broken"],
  },
  client: {
    says: "Who asks for a lease. `a new client in crew` is one that the plan does not name: whoever is plugged in there, or joins its SSID.",
    see: ["dhcp", "lease", "joins"],
  },
  station: {
    says: "Anything that sends frames, known by its hardware address. A switch remembers behind which port each station is.",
    see: ["mac", "ageing"],
  },
  neighbour: {
    says: "Whoever has an address on the same link. Who has it is asked for by ARP over IPv4 and by neighbour discovery over IPv6; where nobody answers, the packet is not sent.",
    see: ["on-link", "gateway"],
  },
  connection: {
    says: "What belongs to one exchange, there and back. A device that tracks connections knows answers by it, so that a rule can accept what is `established`.",
    see: ["state", "established", "forget"],
  },
  dropped: {
    says: "Thrown away without a word: the sender waits in vain. Where the sender is told, the packet is refused.",
    see: ["drop", "refused", "otherwise"],
  },
  refused: {
    says: "Stopped, and the sender is told: by an ICMP error or, over TCP, by a reset.",
    see: ["reject", "dropped"],
  },
  "hop-limit": {
    says: "How many routers a packet may pass yet; each takes one off, so that nothing goes round for ever. Over IPv4 it is called time to live.",
    see: ["unreachable"],
  },
  storm: {
    says: "Frames that go round a loop for ever and drown everything else on their network. Spanning tree cuts loops; where nothing does, nothing works there.",
    see: ["loop", "spanning-tree"],
  },
  loop: {
    says: "Cables by which a frame comes back to where it was. Between switches that do not speak spanning tree it makes a storm; routes may lead round one, too.",
    see: ["storm", "spanning-tree"],
  },
  unseen: {
    says: "What no assertion looks at: networks, rules, translations, routes and ports in use that no question of the run came by. A mistake there would not be told. The page and the JSON report list them.",
    see: ["assertions"],
  },
  thread: {
    says: "How a network is drawn: a colour, a dash pattern and a letter, along every cable that carries it. A trunk shows several side by side; where one is missing that both devices switch, it shows the gap.",
    see: ["trunk", "networks"],
  },
} as const satisfies Record<string, TradeWord>;

const TRADE = {
  trunk: {
    says: "A port, or the cable between two ports, that carries several networks, each with its VLAN tag. Both ends have to list the same ones, or what one of them lacks ends there. It is written as a port with several networks in `tagged`, mostly by a port role, which may be called so.",
    see: ["tagged", "admit", "port-roles"],
  },
  "access-port": {
    says: "A port that carries one network, without tags: what is plugged in there knows nothing of VLANs.",
    see: ["untagged", "admit"],
  },
  uplink: {
    says: "The cable that leads towards the rest of the world: from a switch to the router, or from the router to the provider. The provider is a device that `is: upstream`; the ports of the cable are written like any others, and a port role may be called so.",
    see: ["upstream", "hands-out", "trunk"],
  },
  prefix: {
    says: "An address and how many of its first bits a whole network shares: `10.71.30.0/24` is every address from 10.71.30.0 to 10.71.30.255. A network has one as `ipv4` and others as `ipv6`; a route leads to one.",
    see: ["ipv4", "ipv6", "delegated", "routes"],
  },
  netmask: {
    says: "An older way to write how long a prefix is. Write the length: `/24` for 255.255.255.0.",
    see: ["prefix"],
  },
  firewall: {
    says: "Rules on what may go to a device, through it, and from it. They are tried in their order, and the first that fits decides.",
    see: ["filter", "rules", "otherwise"],
  },
  nat: {
    says: "Translation of addresses: of the source, so that many share one address outside, or of the destination, so that what is sent to the router gets to a host inside.",
    see: ["translate", "source", "to-port"],
  },
  "port-forward": {
    says: "What is sent to a port of the router is led on to a host inside: a translation of the destination. The filter has to let it through as well.",
    see: ["translate", "dest", "to-port"],
  },
  dns: {
    says: "How names become addresses: a client asks the resolvers that it was told, and they ask others.",
    see: ["resolver", "resolvers", "names", "resolves"],
  },
  wifi: {
    says: "Networks without cables: an access point offers SSIDs on its radios, and hosts join them.",
    see: ["ssids", "radios", "joins", "access-point"],
  },
  poe: { says: "Power for a device over its network cable.", see: ["powered-by"] },
  vpn: {
    says: "A network within another one: what goes in at one end comes out at the other, wrapped into outer packets on the way.",
    see: ["tunnels", "peers", "allowed"],
  },
  stp: { says: "The protocol that cuts loops between switches.", see: ["spanning-tree", "loop"] },
  lag: { says: "Several cables that count as one.", see: ["bonds", "members", "lacp"] },
  bridge: {
    says: "What joins ports of a device so that frames pass between them: a switch, or the switching part of a router.",
    see: ["switching", "own"],
  },
  pool: { says: "The addresses that a DHCP server lends.", see: ["dhcp", "hosts", "reservations"] },
  slaac: {
    says: "Addresses that IPv6 hosts make for themselves, of a prefix that a router advertises.",
    see: ["advertise", "autonomous"],
  },
  "dual-stack": {
    says: "IPv4 and IPv6 beside one another. Of a host that speaks both it is enough that one works, unless an assertion says otherwise.",
    see: ["family", "each"],
  },
  lockout: {
    says: "A change that cuts its own way in: the device works, and nobody can tell it to change back. Keep a way in that the change does not touch, and assert it.",
    see: ["rescue", "admin"],
  },
} as const satisfies Record<string, TradeWord>;

/** Words of reports, in the order in which people meet them. */
export const REPORT_WORDS: Readonly<Record<string, TradeWord>> = REPORTS;

/** Words of the trade. */
export const TRADE_WORDS: Readonly<Record<string, TradeWord>> = TRADE;

const SYNONYMS = {
  witness: "packet",
  path: "way",
  "rests-on": "assumption",
  "this-rests-on": "assumption",
  arp: "neighbour",
  "neighbour-discovery": "neighbour",
  tracked: "connection",
  reset: "refused",
  ttl: "hop-limit",
  access: "access-port",
  mask: "netmask",
  snat: "nat",
  masquerade: "nat",
  dnat: "port-forward",
  wlan: "wifi",
  wireless: "wifi",
  "link-aggregation": "lag",
  "router-advertisement": "slaac",
  administration: "admin",
  role: "port-roles",
  cell: "policy",
  dark: "from-dark",
  event: "storyline",
  replay: "storyline",
  tcp: "service",
  udp: "service",
  icmp: "service",
  mss: "clamp-mss",
  "not-seen": "seen",
  "not-shut": "shut",
} as const;

/** The word of ours for what is called otherwise, too; the word itself where there is none. */
export function meantBy(word: string): string {
  return Object.hasOwn(SYNONYMS, word) ? SYNONYMS[word as keyof typeof SYNONYMS] : word; // an own key
}

/** What is said of a word of reports or of the trade; undefined: it is none. */
export function tradeWord(word: string): (TradeWord & { readonly of: "reports" | "the trade" }) | undefined {
  const [report, trade] = [REPORT_WORDS, TRADE_WORDS].map((words) =>
    Object.hasOwn(words, word) ? words[word] : undefined,
  );
  if (report !== undefined) return { ...report, of: "reports" };
  return trade === undefined ? undefined : { ...trade, of: "the trade" };
}
