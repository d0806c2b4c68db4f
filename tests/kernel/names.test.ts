/** The kernel as judge of the exchanges that a look-up of a name is made of, from hop to hop. */
import { expect } from "vitest";
import { siteFrom, statuses } from "../check/verdicts.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judge } from "./agreeing.ts";

const { describe, it } = needsNamespaces("nft", "python3");

const TOPOLOGY = `dryrack: topology/1
devices:
  far: { is: host, ports: { nic: 1G } }
  lock: { is: router, ports: { a: 1G, b: 1G, c: 1G } }
  barge: { is: host, ports: { nic: 1G } }
  hut: { is: host, ports: { nic: 1G } }
cables: [[lock:a, barge:nic], [lock:b, hut:nic], [lock:c, far:nic]]
`;
const intent = (rules: string): string => `dryrack: intent/1
networks: { canal: { ipv4: 10.69.1.0/24 }, bank: { ipv4: 10.69.2.0/24 }, out: { ipv4: 10.69.3.0/24 } }
devices:
  lock:
    interfaces: { a: { network: canal, port: a, host: 1 }, b: { network: bank, port: b, host: 1 }, c: { network: out, port: c, host: 1 } }
    resolver: { listen: [a], forward: [hut, far] }
    filter: { to: { otherwise: drop, rules: [${rules}] }, through: { otherwise: accept }, from: { otherwise: accept } }
  barge: { legs: { nic: { network: canal, host: 9, gateway: 10.69.1.1, resolvers: [lock/a] } } }
  hut: { legs: { nic: { network: bank, host: 53, gateway: 10.69.2.1 } }, serves: {} }
  far: { legs: { nic: { network: out, host: 53, gateway: 10.69.3.1 } }, serves: { udp/53: all } }
`;
const ASKED = "assertions: [{ name: names work, from: barge, expect: resolves }]";
const IN = "{ name: asked, in: a, service: udp/53, action: accept }";
const ANSWERS = "{ name: answers, state: [established, related], action: accept }";

describe.concurrent("a look-up", () => {
  it("comes to the resolver and from there to whom it forwards, hop by hop", async () => {
    const site = [TOPOLOGY, intent(`${IN}, ${ANSWERS}`)] as const;
    const [agreed] = await judge(site, ASKED);
    expect([agreed?.status, agreed?.answers.map(({ text }) => text)]).toEqual([
      "agrees",
      [
        "answered; lock sees 10.69.1.9 to 10.69.1.1:53",
        "refused 3/3 from 10.69.2.53; hut sees 10.69.2.1 to 10.69.2.53:53",
        "answered; far sees 10.69.3.1 to 10.69.3.53:53",
        "reset; far sees 10.69.3.1 to 10.69.3.53:53", // by TCP, which nobody serves there
        "silent", // by TCP, which the list drops
      ],
    ]);
    expect(statuses(siteFrom(...site), "from: barge, expect: resolves")).toEqual(["passed"]);
  });

  it("ends where the answer to the resolver is dropped", async () => {
    const site = [TOPOLOGY, intent(IN)] as const;
    const [agreed] = await judge(site, ASKED);
    expect([agreed?.status, agreed?.answers.map(({ text }) => text)]).toEqual([
      "agrees",
      [
        "answered; lock sees 10.69.1.9 to 10.69.1.1:53",
        "silent; hut sees 10.69.2.1 to 10.69.2.53:53",
        "silent; far sees 10.69.3.1 to 10.69.3.53:53",
      ],
    ]);
    expect(statuses(siteFrom(...site), "from: barge, expect: resolves")).toEqual(["failed"]);
  });
});
