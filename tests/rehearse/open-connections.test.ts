/**
 * Connections that are open when a rule is withdrawn: state survives a change of rules, and what the list accepts of it goes on until it ends
 * or has been quiet for as long as tracking keeps it (kernel facts 17 and 25: TCP 432000 s, UDP that both ends have gone on with 120 s); a router
 * that was without power has forgotten it.
 */
import { describe, expect, it } from "vitest";
import { NO_INK, renderTimeline, renderTimelineJson, renderTimelineMarkdown } from "../../src/report/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { replayed, requestOf } from "./stories.ts";

const GOES_ON = "connections that are open already go on: gate keeps each until it ends or is quiet for";
const ANSWERS = "{ name: answers, state: [established, related], action: accept }";
const BACK = "{ name: back, in: far, state: [established, related], action: accept }";
const OUT = "{ name: out, in: near, action: accept }";

const TOPOLOGY = `dryrack: topology/1
devices:
  gate: { is: router, ports: { near: 1G, far: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[gate:near, desk:nic], [gate:far, shop:nic]]
`;

/** The verdict at two hours, when `out` was withdrawn after one; `also`: what else happens; `state`: the rule for what is open. */
function later(service: string, state: string, also = ""): Verdict | undefined {
  return replayed(requested(service, state, also)).demands[0]?.verdict;
}

function requested(service: string, state: string, also: string) {
  const intent = `dryrack: intent/1
devices:
  gate:
    interfaces: { near: { port: near, ipv4: 10.1.0.1/24 }, far: { port: far, ipv4: 10.2.0.1/24 } }
    filter: { through: { otherwise: drop, rules: [${state}, ${OUT}] } }
  desk: { legs: { nic: { ipv4: 10.1.0.9/24, gateway: 10.1.0.1 } } }
  shop: { legs: { nic: { ipv4: 10.2.0.9/24, gateway: 10.2.0.1 } } }
`;
  const assertions = `dryrack: assertions/1
assertions: [{ name: desk reaches shop, from: desk, to: shop, service: ${service}, expect: connects }]
`;
  const change = `  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${state}] }] }\n`;
  const story = `${change}${also}  - { at: 2h, assert: desk reaches shop }`;
  return requestOf({ topology: TOPOLOGY, intent, assertions }, story);
}

describe("a rule that is withdrawn", () => {
  it.each([
    ["tcp/80", "5 d"],
    ["udp/53", "2 min"],
  ])("stops what is new, and connections over %s that were open go on", (service, quiet) => {
    const verdict = later(service, ANSWERS);
    expect(verdict?.status).toBe("failed");
    expect(verdict?.goesOn).toBe(`${GOES_ON} ${quiet}`);
  });

  it("ends them, too, where the list accepts answers only", () => {
    const verdict = later("tcp/80", BACK);
    expect([verdict?.status, verdict?.goesOn]).toEqual(["failed", undefined]);
  });

  it("leaves nothing that goes on through a router that was without power", () => {
    const verdict = later("tcp/80", ANSWERS, "  - { at: 1h10m, restart: gate, takes: 1m }\n");
    expect([verdict?.status, verdict?.goesOn]).toEqual(["failed", undefined]);
  });

  it.each([
    // It resets what it knows nothing of.
    ["the server", "shop"],
    ["the client", "desk"],
  ])("leaves nothing that goes on of %s that was without power", (_, device) => {
    const verdict = later("tcp/80", ANSWERS, `  - { at: 1h10m, restart: ${device}, takes: 1m }\n`);
    expect([verdict?.status, verdict?.goesOn]).toEqual(["failed", undefined]);
  });

  it("leaves nothing that goes on over a cable that is pulled, and what was open goes on when it is back", () => {
    const pulled = "  - { at: 1h10m, unplug: gate:far }\n";
    expect(later("tcp/80", ANSWERS, pulled)?.goesOn).toBeUndefined();
    const back = "  - { at: 1h20m, plug: [gate:far, shop:nic] }\n";
    expect(later("tcp/80", ANSWERS, pulled + back)?.goesOn).toBe(`${GOES_ON} 5 d`);
    // UDP was quiet for ten minutes.
    expect(later("udp/53", ANSWERS, pulled + back)?.goesOn).toBeUndefined();
  });

  it("leaves UDP as it was where it is asked whether it goes on while its way is cut", () => {
    const [reject, drop] = ["reject", "drop"].map(
      (to) => `change: [{ set: gate.filter.through.otherwise, to: ${to} }]`,
    );
    const asked = `  - { at: 1h11m, ${reject} }\n  - { at: 1h12m, ${drop} }\n`;
    const gap = `  - { at: 1h10m, unplug: gate:far }\n${asked}  - { at: 1h13m, plug: [gate:far, shop:nic] }\n`;
    expect(later("udp/53", ANSWERS, gap)?.goesOn).toBeUndefined();
  });

  it.each([
    ["1h11m59s", `${GOES_ON} 2 min`],
    ["1h12m1s", undefined],
  ])("leaves UDP that went on for long, quiet from 1 h 10 min until %s, as tracking keeps it", (at, told) => {
    const gap = `  - { at: 1h10m, unplug: gate:far }\n  - { at: ${at}, plug: [gate:far, shop:nic] }\n`;
    expect(later("udp/53", ANSWERS, gap)?.goesOn).toBe(told);
  });

  it("is told in the account with what goes on", () => {
    const request = requested("tcp/80", ANSWERS, "");
    const timeline = { ...replayed(request), version: "0", sources: request.plan.sources };
    expect(renderTimelineMarkdown(timeline)).toContain(`broken: desk reaches shop (${GOES_ON} 5 d)`);
  });
});

describe("two routers that track", () => {
  const topology = `dryrack: topology/1
devices:
  gate: { is: router, ports: { near: 1G, far: 1G } }
  mid: { is: router, ports: { near: 1G, far: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[gate:near, desk:nic], [gate:far, mid:near], [mid:far, shop:nic]]
`;
  /** `out` of gate is withdrawn after one hour; `profile`: of mid. */
  const goesOn = (profile: string): string | undefined => {
    const intent = `dryrack: intent/1
devices:
  gate:
    interfaces: { near: { port: near, ipv4: 10.1.0.1/24 }, far: { port: far, ipv4: 10.2.0.1/24 } }
    routes: [{ to: default, via: 10.2.0.2 }]
    filter: { through: { otherwise: drop, rules: [${ANSWERS}, ${OUT}] } }
  mid:
    profile: ${profile}
    interfaces: { near: { port: near, ipv4: 10.2.0.2/24 }, far: { port: far, ipv4: 10.3.0.1/24 } }
    routes: [{ to: default, via: 10.2.0.1 }]
    filter: { through: { otherwise: drop, rules: [${ANSWERS}, ${OUT}] } }
  desk: { legs: { nic: { ipv4: 10.1.0.9/24, gateway: 10.1.0.1 } } }
  shop: { legs: { nic: { ipv4: 10.3.0.9/24, gateway: 10.3.0.1 } } }
`;
    const assertions = `dryrack: assertions/1
assertions: [{ name: desk reaches shop, from: desk, to: shop, service: tcp/80, expect: connects }]
`;
    const change = `  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${ANSWERS}] }] }\n`;
    const story = `${change}  - { at: 2h, assert: desk reaches shop }`;
    return replayed(requestOf({ topology, intent, assertions }, story)).demands[0]?.verdict?.goesOn;
  };

  it("keep a connection for as long as the one that forgets it first", () => {
    expect(goesOn("linux")).toBe(`${GOES_ON} 5 d`);
    // RFC 5382 section 5, REQ-5: no less than 2 h 4 min, and that is what the profile takes.
    expect(goesOn("rfc")).toBe(`${GOES_ON.replace("gate", "mid")} 2 h 4 min`);
  });
});

describe("a client that comes back behind a port that still learns", () => {
  const topology = `dryrack: topology/1
devices:
  gate: { is: router, ports: { near: 1G, far: 1G } }
  hub: { is: switch, ports: { p1..2: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[gate:near, hub:p1], [hub:p2, desk:nic], [gate:far, shop:nic]]
`;

  it("has forgotten what was open, though nothing new got through before the rule is withdrawn", () => {
    const intent = `dryrack: intent/1
devices:
  gate:
    interfaces: { near: { port: near, ipv4: 10.1.0.1/24 }, far: { port: far, ipv4: 10.2.0.1/24 } }
    filter: { through: { otherwise: drop, rules: [${ANSWERS}, ${OUT}] } }
  hub: { switching: { spanning-tree: { priority: 4096 } } }
  desk: { legs: { nic: { ipv4: 10.1.0.9/24, gateway: 10.1.0.1 } } }
  shop: { legs: { nic: { ipv4: 10.2.0.9/24, gateway: 10.2.0.1 } } }
`;
    const assertions = `dryrack: assertions/1
assertions: [{ name: desk reaches shop, from: desk, to: shop, service: tcp/80, expect: connects }]
`;
    const story = `  - { at: 59m, restart: desk, takes: 55s }
  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${ANSWERS}] }] }
  - { at: 2h, assert: desk reaches shop }`;
    const verdict = replayed(requestOf({ topology, intent, assertions }, story)).demands[0]?.verdict;
    expect([verdict?.status, verdict?.goesOn]).toEqual(["failed", undefined]);
  });
});

describe("what is blocked", () => {
  const intentOf = (state: string): string => `dryrack: intent/1
devices:
  gate:
    reverse-path: strict
    interfaces: { near: { port: near, ipv4: 10.1.0.1/24 }, far: { port: far, ipv4: 10.2.0.1/24 } }
    filter: { through: { otherwise: drop, rules: [${state}, ${OUT}] } }
  desk: { legs: { nic: { ipv4: 10.1.0.9/24, gateway: 10.1.0.1 } } }
  shop: { legs: { nic: { ipv4: 10.2.0.9/24, gateway: 10.2.0.1 } }, serves: { tcp/80: all } }
`;
  /** Looks at `desk stays out` at some times. */
  const blockedRequest = (state: string, also: string, times: readonly string[], asked = "") => {
    const assertions = `dryrack: assertions/1
assertions: [{ name: desk stays out, from: desk, to: shop, expect: blocked${asked} }]
`;
    const change = `  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${state}] }] }\n`;
    const looks = times.map((at) => `  - { at: ${at}, assert: desk stays out }\n`).join("");
    const steps = (change + also + looks).split("\n").filter((line) => line !== "");
    const story = steps.toSorted((a, b) => minutesOf(a) - minutesOf(b)).join("\n");
    return requestOf({ topology: TOPOLOGY, intent: intentOf(state), assertions }, story);
  };
  /** Its statuses, with what is remembered. */
  const blocked = (...how: Parameters<typeof blockedRequest>): readonly (readonly unknown[])[] =>
    replayed(blockedRequest(...how)).demands.map(({ verdict }) => [verdict?.status, verdict?.remembered]);
  const minutesOf = (line: string): number => {
    const [, hours = "0", minutes = "0"] = /at: (?:(\d+)h)?(?:(\d+)m)?/.exec(line) ?? [];
    return Number(hours) * 60 + Number(minutes);
  };

  it("is broken by connections that were open before the rule was withdrawn that let them in", () => {
    const [before, after] = blocked(ANSWERS, "", ["59m", "2h"]);
    expect(before).toEqual(["failed", undefined]);
    expect(after).toEqual(["failed", `${GOES_ON} 5 d`]);
    expect(blocked(ANSWERS, "", ["2h"], ", service: icmp/echo-request")).toEqual([["failed", `${GOES_ON} 30 s`]]);
  });

  it("holds where the list accepts answers only, or the router was without power", () => {
    expect(blocked(BACK, "", ["2h"])).toEqual([["passed", undefined]]);
    const restart = "  - { at: 1h10m, restart: gate, takes: 1m }\n";
    expect(blocked(ANSWERS, restart, ["1h5m", "2h"], ", service: tcp/80")).toEqual([
      ["failed", `${GOES_ON} 5 d`],
      ["passed", undefined],
    ]);
  });

  it("holds from the moment at which the router is told to forget its connections, and is not broken again", () => {
    const forgets = "  - { at: 1h10m, forget: { connections: gate } }\n";
    const request = blockedRequest(ANSWERS, forgets, ["1h9m", "1h11m", "2h"]);
    const { demands, moments } = replayed(request);
    expect(demands.map(({ status }) => status)).toEqual(["failed", "passed", "passed"]);
    const [moment] = moments.filter(({ step }) => step?.kind === "forget");
    expect(moment?.step?.text).toBe("gate forgets the connections that it tracks");
    expect(moment?.turns.map(({ before, verdict }) => [before, verdict.status])).toEqual([["failed", "passed"]]);
  });

  it("is broken by what was opened anew after the router forgot, and not by what others forget", () => {
    // While new ones get through, they are opened anew at once.
    const early = "  - { at: 50m, forget: { connections: gate } }\n";
    expect(blocked(ANSWERS, early, ["2h"], ", service: tcp/80")).toEqual([["failed", `${GOES_ON} 5 d`]]);
    // A program goes on with what it has open, whatever tracks beside it.
    const ends = "  - { at: 1h10m, forget: { connections: desk } }\n  - { at: 1h11m, forget: { connections: shop } }\n";
    expect(blocked(ANSWERS, ends, ["2h"], ", service: tcp/80")).toEqual([["failed", `${GOES_ON} 5 d`]]);
  });

  it("holds while the way is cut, and after it where the connection has been quiet for too long", () => {
    const pulled = "  - { at: 1h10m, unplug: gate:far }\n  - { at: 1h20m, plug: [gate:far, shop:nic] }\n";
    const during = (service: string): readonly unknown[] =>
      blocked(ANSWERS, pulled, ["1h15m", "2h"], `, service: ${service}, even-if: cut-off`).map(([status]) => status);
    expect(during("tcp/80")).toEqual(["passed", "failed"]);
    expect(during("icmp/echo-request")).toEqual(["passed", "passed"]);
  });

  it("says what to do, and that the site is no better without the step that withdrew the rule", () => {
    const request = blockedRequest(ANSWERS, "", ["2h"]);
    const told = { ...replayed(request), version: "0", sources: request.plan.sources };
    const help =
      "stop it in a rule before that one, or let whoever keeps it forget it: in a story by `forget: { connections: ... }`, or a restart";
    expect(renderTimeline(told, NO_INK).replace(/\s+/g, " ")).toContain(help);
    expect(renderTimelineMarkdown(told)).toContain("let whoever keeps it forget it: in a story by");
    const { results } = JSON.parse(renderTimelineJson(told));
    expect(results).toMatchObject([{ help }]);
    expect(told.demands[0]?.cause?.text).toContain("too, and then not only by what is remembered");
    // The rule that lets it by is shown, not the end of the list, which stops what is new.
    const [line] = told.demands[0]?.verdict?.decidedBy ?? [];
    const { file = 0, start, end } = line?.origin.span ?? {};
    expect(told.sources[file]?.text.slice(start, end)).toBe("answers");
  });

  it("is told as it was when that was demanded, where packets got through before", () => {
    const { demands } = replayed(blockedRequest(ANSWERS, "  - { at: 1h30m, meanwhile: desk stays out }\n", []));
    expect(demands.map(({ kind, status }) => [kind, status])).toEqual([["meanwhile", "failed"]]);
    expect(demands[0]?.verdict?.headline).toMatch(/^nothing new gets from desk to shop, but what is open already does/);
  });

  describe("of all that got through at once", () => {
    /** How it ends where a list lets go on only what `kept` says, on a host that listens on everything; `beside`: rules for the router. */
    const openFor = (kept: string, beside = "", back = BACK): readonly unknown[] => {
      const own = `filter: { to: { otherwise: accept, rules: [${beside}] }, through`;
      const intent = intentOf(ANSWERS).replace(", serves: { tcp/80: all }", "").replace("filter: { through", own);
      const assertions = `dryrack: assertions/1
assertions: [{ name: desk stays out, from: desk, to: shop, expect: blocked }]
`;
      const rule = `{ name: kept, in: near, ${kept}, state: [established, related], action: accept }`;
      const story = `  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${back}, ${rule}] }] }
  - { at: 2h, assert: desk stays out }`;
      const { demands, assumptions } = replayed(requestOf({ topology: TOPOLOGY, intent, assertions }, story));
      return demands.map(({ status, verdict }) => [
        status,
        status === "failed" ? verdict?.witness?.service : assumptions,
      ]);
    };

    it.each([
      ["service: [tcp/8000, tcp/8001]", "tcp/8000"],
      ["service: udp/9000-9100", "udp/9000"],
      ["service: udp", "udp/443"],
    ])("it is broken by what only a later rule tells apart: %s", (kept, service) => {
      expect(openFor(kept)).toEqual([["failed", service]]);
    });

    it("it is broken by a port that some rule of now tells apart, for other packets", () => {
      const beside = "{ name: names, service: udp/53, action: accept }";
      expect(openFor("service: udp/53", beside)).toEqual([["failed", "udp/53"]]);
    });

    it("it is broken by what a later rule tells apart of what comes back", () => {
      const back =
        "{ name: back, in: far, service: udp, source-port: 9000, state: [established, related], action: accept }";
      expect(openFor("dest: 10.2.0.9", "", back)).toEqual([["failed", "udp/9000"]]);
    });

    it("is assumed to go on no longer from another source port, where some rule looks at these", () => {
      const assumed =
        "what is open from desk to shop goes on no longer from another source port than from the one that is tried";
      expect(openFor("source-port: 5000")).toEqual([["passed", [assumed]]]);
      expect(openFor("service: tcp/80", "{ name: own, source-port: 68, service: udp/67, action: drop }")).toEqual([
        ["failed", "tcp/80"],
      ]);
      expect(openFor("dest: 10.2.0.77")).toEqual([["passed", []]]);
    });

    it("of more ports than 500 only the lowest are looked at, and that is said", () => {
      const many = Array.from(
        { length: 260 },
        (_, n) => `{ name: n${n}, service: tcp/${1000 + 2 * n}, action: accept }`,
      );
      const assumed =
        "what is open from desk to shop on ports from 1500 up goes on no longer than what is open on those below";
      expect(openFor("service: tcp/1400", many.join(", "))).toEqual([["failed", "tcp/1400"]]);
      expect(openFor("service: tcp/1516", many.join(", "))).toEqual([["passed", [assumed]]]);
    });
  });

  it("rests on what nobody knows of undeclared stations, where packets got through before from a place that may hold some", () => {
    const assumed = "no undeclared station in yard has anything open to shop from before";
    const told = (from: string, story: string) => {
      const assertions = `dryrack: assertions/1
assertions: [{ name: stays out, from: ${from}, to: shop, expect: blocked }]
`;
      const yard = "networks: { yard: { ipv4: 10.1.0.0/24 } }\ndevices:";
      const intent = intentOf(BACK).replace("devices:", yard).replace("ipv4: 10.1.0.1/24", "network: yard, host: 1");
      const { demands, assumptions } = replayed(requestOf({ topology: TOPOLOGY, intent, assertions }, story));
      return { statuses: demands.map(({ status }) => status), assumptions };
    };
    const withdrawn = `  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${BACK}] }] }\n  - { at: 2h, assert: stays out }`;
    expect(told("yard", withdrawn)).toEqual({ statuses: ["passed"], assumptions: [assumed] });
    // One host is itself, and nobody else.
    expect(told("desk", withdrawn)).toEqual({ statuses: ["passed"], assumptions: [] });
    // What never got through left nothing open.
    expect(told("yard", "  - { at: 2h, assert: stays out }").assumptions).toEqual([]);
  });

  it("rests on what nobody knows of stations on the internet, too", () => {
    const topology = TOPOLOGY.replace("desk: { is: host, ports: { nic", "desk: { is: upstream, ports: { nic");
    const intent = intentOf(BACK)
      .replace("ipv4: 10.1.0.1/24", "ipv4: 203.0.113.2/24")
      .replace(
        / {2}desk: .*\n/,
        "  desk: { hands-out: { nic: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }\n",
      );
    const assertions = `dryrack: assertions/1
assertions: [{ name: stays out, from: internet, to: shop, expect: blocked }]
`;
    const story = `  - { at: 30m, assert: stays out }
  - { at: 1h, change: [{ set: gate.filter.through.rules, to: [${BACK}] }] }
  - { at: 2h, assert: stays out }`;
    const { demands, assumptions } = replayed(requestOf({ topology, intent, assertions }, story));
    expect(demands.map(({ status }) => status)).toEqual(["failed", "passed"]);
    expect(assumptions).toContain("no undeclared station on the internet has anything open to shop from before");
  });

  it("is asked of nothing that was not open", () => {
    expect(blocked(ANSWERS, "", ["2h"], ", service: tcp/81")).toEqual([["passed", undefined]]);
  });
});

describe("a forward that is withdrawn", () => {
  const intent = `dryrack: intent/1
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1 } } }
  gate:
    reverse-path: strict
    interfaces: { wan: { port: wan, ipv4: 203.0.113.9/24 }, far: { port: far, ipv4: 10.2.0.1/24 }, side: { port: side, ipv4: 10.3.0.1/24 } }
    routes: [{ to: default, via: 203.0.113.1 }]
    filter:
      to: { otherwise: drop, rules: [] }
      through: { otherwise: drop, rules: [{ name: back, state: [established, related], action: accept }, { name: in, in: wan, dest: shop, service: tcp/80, action: accept }] }
    translate: { dest: [{ name: shop window, in: wan, dest: 203.0.113.9, service: tcp/80, to: shop }] }
  shop: { legs: { nic: { ipv4: 10.2.0.9/24, gateway: 10.2.0.1 } }, serves: { tcp/80: all } }
  stall: { legs: { nic: { ipv4: 10.3.0.9/24, gateway: 10.3.0.1 } }, serves: { tcp/80: all } }
`;
  const topology = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, far: 1G, side: 1G } }
  shop: { is: host, ports: { nic: 1G } }
  stall: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gate:wan], [gate:far, shop:nic], [gate:side, stall:nic]]
`;

  /** The verdicts on the shop at two hours and whenever it is looked at besides, when the rules changed after one. */
  const verdictsAfter = (edits: string, also = "", to = "shop"): readonly (Verdict | undefined)[] => {
    const assertions = `dryrack: assertions/1
assertions: [{ name: the shop is shut, from: internet, to: ${to}, expect: blocked }]
`;
    const story = `  - { at: 1h, change: [${edits}] }\n${also}  - { at: 2h, assert: the shop is shut }`;
    return replayed(requestOf({ topology, intent, assertions }, story)).demands.map(({ verdict }) => verdict);
  };
  const GONE = "{ set: gate.translate.dest, to: [] }, { remove: 'gate.filter.through.rules[in]' }";
  const ELSEWHERE =
    "{ set: 'gate.translate.dest[shop window].to', to: stall }, { set: 'gate.filter.through.rules[in].dest', to: stall }";

  it.each([
    ["dropped", GONE],
    // Its stack resets it: no list of rules has anything to do with that.
    ["refused by the router itself", `${GONE}, { set: gate.filter.to.otherwise, to: accept }`],
    ["led elsewhere, and answered there", ELSEWHERE],
  ])("leaves what came by it, where what is new is %s: the shop is not shut while that goes on", (_, edits) => {
    const [verdict] = verdictsAfter(edits);
    expect([verdict?.status, verdict?.remembered]).toEqual(["failed", `${GOES_ON} 5 d`]);
    expect(verdict?.witness?.destination).toBe("203.0.113.9");
  });

  it("leaves it to the address that it is sent to, too", () => {
    const told = (also: string) =>
      verdictsAfter(GONE, also, "gate/wan").map((each) => [each?.status, each?.remembered]);
    expect(told("")).toEqual([["failed", `${GOES_ON} 5 d`]]);
    expect(told("  - { at: 1h10m, restart: gate, takes: 1m }\n")).toEqual([["passed", undefined]]);
  });

  it("leaves nothing once the router was without power, and nothing of what is open elsewhere is taken for it", () => {
    const again = "  - { at: 1h5m, change: [{ set: gate.filter.to.otherwise, to: reject }] }\n";
    const restart = "  - { at: 1h10m, restart: gate, takes: 1m }\n";
    const asked = "  - { at: 1h6m, assert: the shop is shut }\n";
    const [before, after] = verdictsAfter(ELSEWHERE, again + asked + restart);
    expect(before?.status).toBe("failed");
    expect([after?.status, after?.remembered]).toEqual(["passed", undefined]);
  });
});
