/**
 * Each row of the table of profiles differs: the same small site answers as the row says of either profile, and a real kernel
 * answers as its column says.
 */
import { afterAll, describe as always, it as ever, expect } from "vitest";
import { PROFILE_TABLE } from "../../src/compile/profile-table.ts";
import { PROFILES } from "../../src/compile/profiles.ts";
import { buildKernelSite, planKernel, Rack } from "../../src/kernel/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { at, request, TestServer } from "../protocol/dhcp-notation.ts";
import { needs, needsNamespaces } from "../support/needs.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { judgedApart } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { modelSays } from "./model-alone.ts";
import { packet, udp } from "./packets.ts";
import { PROFILE_CASES, type ProfileCase, routed } from "./profile-cases.ts";
import { put } from "./question.ts";

type Profile = keyof typeof PROFILES;

function textsFor({ texts: [topology, intent] }: Pick<ProfileCase, "texts">, profile: Profile): [string, string] {
  return [topology, intent.replaceAll("PROFILE", profile)];
}

/** Rows that no exchange of a few packets shows; each has a test of its own below. */
const OTHERS = ["tracking", "refusesOthers", "adoptsUnknown"];

always("every row of the table", () => {
  ever("is shown by a site, or has a test of its own", () => {
    const shown = [...PROFILE_CASES.map(({ row }) => row), ...OTHERS];
    expect(shown.toSorted()).toEqual(PROFILE_TABLE.map(({ id }) => id).toSorted());
  });

  ever.each(PROFILE_CASES)("$row differs", async (shown) => {
    const answers = (["linux", "rfc"] as const).map((profile) =>
      modelSays({ texts: textsFor(shown, profile), questions: shown.questions, ports: [] }),
    );
    expect(await Promise.all(answers)).toEqual([shown.linux, shown.rfc]);
    expect(shown.linux).not.toBe(shown.rfc);
  });
});

const namespaces = needsNamespaces("nft", "python3");
namespaces.describe("the kernel's column, in namespaces", () => {
  const rack = new Rack();
  afterAll(() => rack.stop());

  namespaces.it.each(PROFILE_CASES.filter(({ kind }) => kind === "plain"))("$row", async (shown) => {
    expect(await kernelSays(rack, shown)).toBe(shown.linux);
  });

  namespaces.it("tracking: the kernel's own lifetimes", async () => {
    const site = await buildKernelSite(rack, planKernel(siteOf(...textsFor({ texts: routed("") }, "linux"))));
    // Connections are tracked where a rule asks for their state, and then these files are there.
    await site.addRules(
      "edge",
      "table inet t { chain c { type filter hook forward priority 0; ct state new accept; }; }",
    );
    const names = ["tcp_timeout_established", "tcp_timeout_syn_sent", "udp_timeout", "udp_timeout_stream"];
    const files = [...names, "icmp_timeout", "generic_timeout"].map(
      (name) => `/proc/sys/net/netfilter/nf_conntrack_${name}`,
    );
    const seconds = (await site.run("edge", ["cat", ...files])).trim().split("\n").map(Number);
    const { value } = PROFILES.linux.tracking;
    expect(seconds).toEqual([
      value.tcpEstablishedSeconds,
      value.tcpTransitorySeconds,
      value.udpSeconds,
      value.udpAnsweredSeconds,
      value.icmpSeconds,
      value.otherSeconds,
    ]);
    await site.close();
  });
});

const machine = needs("qemu-system-x86_64");
machine.describe("the kernel's column, in a machine", () => {
  const rack = machineRack();

  machine.it.each(PROFILE_CASES.filter(({ kind }) => kind === "full"))("$row", { timeout: 60_000 }, async (shown) => {
    expect(await kernelSays(rack(), shown)).toBe(shown.linux);
  });
});

/** What both say to the last question: they must agree on all of them. */
async function kernelSays(rack: Rack, shown: ProfileCase): Promise<string | undefined> {
  const texts = textsFor(shown, "linux");
  const site = await judgedApart(rack, texts, texts, shown.kind);
  try {
    let last: string | undefined;
    for (const question of shown.questions) last = await put(site, question);
    return last;
  } finally {
    await site.close();
  }
}

always("tracking differs", () => {
  const texts = routed(
    "filter: { through: { otherwise: drop, rules: [{ name: out, in: left, action: accept }, { name: back, state: established, action: accept }] } }",
  );

  ever.each([
    ["linux", false],
    ["rfc", true],
  ] as const)("%s: 150 s after an exchange of datagrams one more gets back: %s", (profile, getsBack) => {
    const network = networkOf(...textsFor({ texts }, profile));
    const simulation = createSimulation(network, settle(network));
    simulation.sendFrom("desk/stack", packet("10.31.1.9", "10.31.2.9", udp(4000, 53)));
    simulation.wait(150);
    const back = packet("10.31.2.9", "10.31.1.9", udp(53, 4000));
    const { arrivals } = simulation.sendFrom("shelf/stack", back);
    expect(arrivals.some(({ stack }) => stack === "desk/stack")).toBe(getsBack);
  });
});

always("servers of leases differ", () => {
  const CLIENT = 0xaan;

  ever("refusesOthers: a request that names another server is refused, or passed over", () => {
    const told = request(CLIENT, { requested: at("10.71.40.9"), server: at("10.71.40.2") });
    expect(new TestServer({}, "linux").says(0, told)).toBe("refuse");
    expect(new TestServer({}, "rfc").says(0, told)).toBe("silence");
  });

  ever("adoptsUnknown: a client that nobody knows gets what it remembers, or hears nothing", () => {
    const told = request(CLIENT, { requested: at("10.71.40.101") });
    expect(new TestServer({}, "linux").says(0, told)).toMatch(/^acknowledge 10\.71\.40\.101/);
    expect(new TestServer({}, "rfc").says(0, told)).toBe("silence");
  });
});
