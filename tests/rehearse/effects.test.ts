/** What is told to have come of a step came of that step: what would have changed without it, too, is another one's. */
import { describe, expect, it } from "vitest";
import { replay } from "../../src/rehearse/index.ts";
import { NO_INK, renderTimeline, renderTimelineMarkdown } from "../../src/report/index.ts";
import { tellTime } from "../../src/result/index.ts";
import { house, replayed, requestOf, told } from "./stories.ts";

const linesOf = (...steps: readonly string[]): string => steps.map((step) => `  - ${step}`).join("\n");

/** Of each demand that was broken: the steps behind it, then when what changed of them. */
function causes(story: string): readonly string[] {
  return told(story).demands.flatMap(({ cause }) => {
    if (cause === undefined) return [];
    const { steps, changes, changedMs } = cause;
    const when = changedMs === undefined ? "" : tellTime(changedMs);
    return [`${steps.map(({ kind }) => kind).join(", ")} | ${[when, ...changes.map(({ text }) => text)].join(": ")}`];
  });
}

/** The server may not be asked any more. */
const SHUT = "change: [{ set: srv.filter, to: { to: { otherwise: drop, rules: [] } } }]";

describe("what came of a step", () => {
  it("is not what came of an earlier one that has nothing to do with it", () => {
    const story = linesOf("{ at: 1m, unplug: sw:p4 }", `{ at: 10m, ${SHUT} }`, "{ at: 11m, assert: pc reaches srv }");
    expect(causes(story)).toEqual(["change | "]);
  });

  it("is not what came of one that broke it before and was mended", () => {
    const story = linesOf(
      "{ at: 1m, unplug: srv:nic }",
      `{ at: 5m, ${SHUT} }`,
      "{ at: 6m, plug: [srv:nic, sw:p3] }",
      "{ at: 10m, assert: pc reaches srv }",
    );
    expect(causes(story)).toEqual(["change | "]);
  });

  it("is not what came of another one at the same moment", () => {
    const story = linesOf("{ at: 1m, unplug: sw:p4 }", `{ at: 1m, ${SHUT} }`, "{ at: 1m, assert: pc reaches srv }");
    expect(causes(story)).toEqual(["change | "]);
  });

  it("is told with the time at which it came", () => {
    const story = linesOf("{ at: 1m, server-off: { dhcp: gw/house } }", "{ at: 2h, assert: pc has a lease }");
    // Half an hour into its lease of an hour the client has asked for more time, once at least: see the account.
    expect(causes(story)).toEqual([
      expect.stringMatching(/^server-off \| \d+m\d*s?: gives up 10\.9\.10\.100: asks for an address: nobody answers$/),
    ]);
  });

  it("is told of the step that kept it broken, from its own time on", () => {
    // The second cable that is pulled matters once the first one is back.
    const story = linesOf(
      "{ at: 1m, unplug: srv:nic }",
      "{ at: 5m, unplug: pc:nic }",
      "{ at: 6m, plug: [srv:nic, sw:p3] }",
      "{ at: 10m, assert: pc reaches srv }",
    );
    expect(causes(story)).toEqual(["unplug | 5m: has no link"]);
  });
});

/** Two switches joined by a cable, which a reserve joins to nobody; nobody is in the guests' network while the cable is in. */
const HALLS = {
  topology: `dryrack: topology/1
devices:
  near: { is: switch, ports: { p1..4: 1G } }
  far: { is: switch, ports: { q1..2: 1G } }
  till: { is: host, ports: { nic: 1G } }
  scale: { is: host, ports: { nic: 1G } }
cables: [[near:p1, till:nic], [near:p4, far:q1], [far:q2, scale:nic]]
`,
  intent: `dryrack: intent/1
networks: { work: { vlan: 10, ipv4: 10.7.1.0/24 }, guest: { vlan: 20, ipv4: 10.7.2.0/24 } }
port-roles: { trunk: { tagged: [work, guest], admit: tagged }, seat: { untagged: work, admit: untagged } }
devices:
  near:
    bonds: { up: { members: [p4], mode: lacp, alone: none } }
    switching: { unlisted: "off", ports: { p1..2: seat, up: trunk } }
  far:
    bonds: { up: { members: [q1], mode: lacp } }
    switching: { unlisted: "off", ports: { q2: seat, up: trunk } }
  till: { legs: { nic: { network: work, host: 5 } } }
  scale: { legs: { nic: { network: work, host: 6 } } }
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: weighs, from: till, to: scale, service: tcp/80, expect: connects }
  - { name: guests stay out, from: guest, to: work, expect: blocked, even-if: cut-off }
`,
};

describe("a cable that is pulled between two switches", () => {
  const { demands } = replayed(
    requestOf(HALLS, linesOf("{ at: 1m, assert: all }", "{ at: 2m, unplug: far:q1 }", "{ at: 2m10s, assert: all }")),
  );

  it("is to blame for what gets in by its free end, where nobody could be asked before", () => {
    expect(demands.map(({ name, status }) => `${name} ${status}`)).toEqual([
      ...["weighs passed", "guests stay out vacuous", "weighs failed", "guests stay out failed"],
    ]);
    expect(demands[3]?.cause?.steps.map(({ kind }) => kind)).toEqual(["unplug"]);
  });

  it("is what is down, not the seat into which nobody is plugged", () => {
    expect(demands[2]?.verdict?.headline).toBe("till to scale on tcp/80: the link at `near:up` is down");
  });
});

describe("the account", () => {
  const request = house(
    linesOf(
      "{ at: 1m, unplug: pc:nic }",
      "{ at: 2m, assert: pc reaches srv }",
      "{ at: 3m, plug: [pc:nic, sw:p2] }",
    ).concat(
      "\n  - { at: 10m, unplug: pc:nic }\n  - { at: 11m, assert: pc reaches srv }\n  - { at: 12m, assert: pc has a lease }",
    ),
  );
  const timeline = { ...replay(request), version: "0", sources: request.plan.sources };
  it("tells what follows from a step below that step, though it was so before", () => {
    const table = renderTimelineMarkdown(timeline);
    const second = table.slice(table.lastIndexOf("is pulled** |"));
    expect(second).toContain("pc:nic has no link");
    expect(table).not.toContain("once more");
  });

  it("says at which time the demand was whose cause it is", () => {
    expect(renderTimeline(timeline, NO_INK)).toContain("the cause is that of `pc reaches srv` at 11m, above");
  });

  const accountOf = (...steps: readonly string[]): string => {
    const story = house(linesOf(...steps));
    return renderTimelineMarkdown({ ...replay(story), version: "0", sources: story.plan.sources });
  };

  it("tells once that a lease is kept, whatever else happens elsewhere", () => {
    const account = accountOf("{ at: 1h5m, unplug: sw:p4 }", "{ at: 2h5m, server-off: { dhcp: gw/house } }");
    expect(account.match(/pc\/nic keeps .*/g)).toEqual([
      "pc/nic keeps 10.9.10.100 for 1 h (3 times more, last at 1h57m50s) |",
    ]);
  });

  it("tells anew that it is kept where the link of its client came back", () => {
    const change = "{ set: sw.switching.spanning-tree, to: off }";
    const account = accountOf(
      `{ at: 1s, change: [${change}] }`,
      "{ at: 40m, unplug: pc:nic }",
      "{ at: 41m, plug: [pc:nic, sw:p2] }",
    );
    expect(account.match(/\n.* keeps .*/g)?.length).toBe(2);
    expect(account.slice(account.indexOf("a cable joins"))).toContain("pc/nic keeps 10.9.10.100 for 1 h |");
  });

  it("tells once that a port has no link, though its bridge sees it, too", () => {
    const account = accountOf("{ at: 1m, unplug: sw:p4 }");
    expect(account.match(/sw\S* has no link/g)).toEqual(["sw:p4 has no link"]);
  });
});
