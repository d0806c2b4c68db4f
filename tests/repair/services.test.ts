/** Repairs where nobody listens at a port: each is done by its printed lines, and judged afresh. */
import { describe, expect, it } from "vitest";
import { faultsOf, judged, mendingsOf, planIn, told } from "./repairing.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mole: { is: router, ports: { wan: 1G, a: 1G, b: 1G } }
  crane: { is: host, ports: { nic: 1G } }
  store: { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, mole:wan]
  - [mole:a, crane:nic]
  - [mole:b, store:nic]
`;

/** A store with a leg in each of two networks; what it serves, the forward that leads there and the administration of the router are given. */
function intent({ serves = "{ tcp/445: [nic] }", forward = "", admin = "" } = {}): string {
  return `dryrack: intent/1
networks:
  pier: { vlan: 5, ipv4: 10.64.1.0/24 }
  shed: { vlan: 6, ipv4: 10.64.2.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  mole:
    switching: { ports: { a: { untagged: pier }, b: { untagged: shed, tagged: [pier] } }, own: { tagged: [pier, shed] } }
    interfaces:
      wan: { port: wan, ipv4: 203.0.113.9/24, gateway: 203.0.113.1 }
      pier: { network: pier, host: 1 }
      shed: { network: shed, host: 1 }
${admin}    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }]${forward} }
  crane: { legs: { nic: { network: pier, host: 9, gateway: mole/pier } }, serves: {} }
  store:
    legs:
      nic: { network: shed, host: 20, gateway: mole/shed }
      pier: { port: nic, tag: pier, network: pier, host: 20, gateway: none }
    serves: ${serves}
`;
}

async function repaired(text: string, assertion: string): Promise<readonly string[]> {
  const plan = planIn([TOPOLOGY, text], `dryrack: assertions/1\nassertions:\n  - { name: it works, ${assertion} }\n`);
  const [mending] = await mendingsOf(plan);
  const repairs = mending?.repairs ?? [];
  for (const repair of repairs) expect(faultsOf(plan, "it works", repair), told(repair)).toEqual([]);
  return repairs.map(told);
}

describe("what to do where nobody listens", () => {
  const helpFor = (text: string, assertion: string): string | undefined =>
    judged(planIn([TOPOLOGY, text], `dryrack: assertions/1\nassertions:\n  - { name: it works, ${assertion} }\n`))[0]
      ?.help;

  it("is told by what listens elsewhere, or is served there", () => {
    const asked = (service: string): string => `from: crane, to: store/pier, service: ${service}, expect: connects`;
    expect(helpFor(intent(), asked("tcp/445"))).toBe(
      "add the leg to that service in `serves`, or ask at one where store listens for it",
    );
    const forward =
      ", dest: [{ name: files, in: wan, dest: mole/wan, service: tcp/4450, to: store/nic, to-port: 444 }]";
    expect(helpFor(intent({ forward }), "from: internet, to: mole/wan, service: tcp/4450, expect: connects")).toBe(
      "let it be served there, or ask for a service that is",
    );
    const admin = "    admin: { services: [tcp/22], listen: [shed] }\n";
    expect(helpFor(intent({ admin }), "from: crane, to: mole/pier, service: tcp/22, expect: connects")).toBe(
      "add the leg to `listen` of its `admin`, or ask at one where mole listens for it",
    );
  });
});

describe("where nobody listens, it is mended", () => {
  it("by a leg more at which the service listens", async () => {
    expect(await repaired(intent(), "from: crane, to: store/pier, service: tcp/445, expect: connects")).toEqual([
      "service\n- serves: { tcp/445: [nic] }\n+ serves: { tcp/445: [nic, pier] }",
    ]);
  });

  it("by no line where the host does not serve it at all: none starts a server", async () => {
    const asked = "from: crane, to: store/pier, service: tcp/80, expect: connects";
    expect(await repaired(intent(), asked)).toEqual([]);
    expect(await repaired(intent({ serves: "{}" }), asked)).toEqual([]);
  });

  it("by a leg more at which a device is administered", async () => {
    const admin = "    admin: { services: [tcp/22], listen: [shed] }\n";
    expect(await repaired(intent({ admin }), "from: crane, to: mole/pier, service: tcp/22, expect: connects")).toEqual([
      "service\n- admin: { services: [tcp/22], listen: [shed] }\n+ admin: { services: [tcp/22], listen: [shed, pier] }",
    ]);
    // What it is not administered by is no matter of where it listens.
    expect(await repaired(intent({ admin }), "from: crane, to: mole/pier, service: tcp/23, expect: connects")).toEqual(
      [],
    );
  });

  it("by the port that a forward leads to", async () => {
    const forward =
      ", dest: [{ name: files, in: wan, dest: mole/wan, service: tcp/4450, to: store/nic, to-port: 444 }]";
    const all = await repaired(
      intent({ forward }),
      "from: internet, to: mole/wan, service: tcp/4450, expect: connects",
    );
    expect(all[0]).toContain("to: store/nic, to-port: 445 }");
    expect(all[0]).toMatch(/^rule\n/);
  });
});
