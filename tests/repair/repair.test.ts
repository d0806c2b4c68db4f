import { describe, expect, test } from "vitest";
import { lighthouse } from "./house.ts";
import { after, endsOf, faultsOf, helpersOn, judged, mendingsOf, type Plan, told } from "./repairing.ts";

const NO_TIME_OUT = 120_000;

/** The first repair of each broken assertion, in short; every repair is judged afresh on the way. */
async function firstRepairs(plan: Plan): Promise<Readonly<Record<string, string>>> {
  const found = (await mendingsOf(plan)).map(({ id, repairs }) => {
    const name = id.slice(id.indexOf("#") + 1);
    expect(repairs.length, name).toBeLessThanOrEqual(3);
    for (const repair of repairs) expect(faultsOf(plan, name, repair), told(repair)).toEqual([]);
    const [first] = repairs;
    return [name, first === undefined ? "none" : told(first)] as const;
  });
  return Object.fromEntries(found);
}

const SWAP =
  "          - { name: the watch turns the lamp, in: watch, out: light, service: tcp/502, action: accept }\n" +
  "          - { name: the lamp is left alone, out: light, action: drop }\n";
const SWAPPED = SWAP.split("\n").slice(0, 2).reverse().join("\n").concat("\n");

describe("a single edit mends", () => {
  test("nothing where all holds", async () => {
    expect(judged(lighthouse()).filter(({ status }) => status !== "passed")).toEqual([]);
    expect(await mendingsOf(lighthouse())).toEqual([]);
  });

  test(
    "a tag that is missing on a trunk, and with it all that needs it",
    async () => {
      const plan = lighthouse(["p1: { tagged: [watch, light, guests]", "p1: { tagged: [watch, light]"]);
      const tag =
        "tag\n- p1: { tagged: [watch, light], admit: tagged }\n+ p1: { tagged: [watch, light, guests], admit: tagged }";
      expect(await firstRepairs(plan)).toEqual({
        "guests leave the lamp alone": tag,
        "guests leave the watch alone": tag,
        "guests go out": tag,
        "a guest gets a lease": tag,
      });
    },
    NO_TIME_OUT,
  );

  test(
    "a socket that is in the wrong network",
    async () => {
      const plan = lighthouse(["p4: { untagged: guests,", "p4: { untagged: light,"]);
      const tag = "tag\n- p4: { untagged: light, admit: untagged }\n+ p4: { untagged: guests, admit: untagged }";
      expect(await firstRepairs(plan)).toMatchObject({ "a guest gets a lease": tag, "guests have one socket": tag });
    },
    NO_TIME_OUT,
  );

  test(
    "two cables in one another's sockets, and with them all that both hosts lack",
    async () => {
      const plan = lighthouse(
        ["[cabin:p3, lamp:nic]", "[cabin:p4, lamp:nic]"],
        ["[cabin:p4, guest:nic]", "{ ends: [guest:nic, cabin:p3], rate: 100M }"],
      );
      const cables = [
        "cable",
        "- - [cabin:p4, lamp:nic]",
        "- - { ends: [guest:nic, cabin:p3], rate: 100M }",
        "+ - [cabin:p4, guest:nic]",
        "+ - { ends: [lamp:nic, cabin:p3], rate: 100M }",
      ].join("\n");
      expect(await firstRepairs(plan)).toEqual({
        "the watch turns the lamp": cables,
        "the lamp is open to nothing else": cables,
        "guests go out": cables,
        "a guest gets a lease": cables,
      });
    },
    NO_TIME_OUT,
  );

  test(
    "a rule that is gone, by one that opens what was asked and nothing else",
    async () => {
      const plan = lighthouse(["          - { name: guests go out, in: guests, out: wan, action: accept }\n", ""]);
      const [mending] = await mendingsOf(plan);
      expect(mending?.repairs.map(told)).toEqual([
        "rule\n+ - { name: guest to internet, in: guests, out: wan, service: tcp/443, action: accept }",
      ]);
      expect(mending?.repairs[0]?.allows).toEqual(["tcp/443 from guests to internet gets through now"]);
      expect(mending?.repairs[0]?.forbids).toEqual([]);
    },
    NO_TIME_OUT,
  );

  test(
    "a rule that is too wide, by one that stops what was asked and nothing else",
    async () => {
      const plan = lighthouse(["{ name: guests go out, in: guests, out: wan,", "{ name: guests go out, in: guests,"]);
      expect(await firstRepairs(plan)).toEqual({
        "guests leave the watch alone":
          "rule\n+ - { name: guests not to watch, in: guests, out: watch, dest: watch, action: drop }",
      });
    },
    NO_TIME_OUT,
  );

  test(
    "a word that is missing in a rule, where that mends more",
    async () => {
      const plan = lighthouse(
        ["{ name: guests go out, in: guests, out: wan,", "{ name: guests go out, in: guests,"],
        [
          "guests leave the watch alone, from: guests, to: watch,",
          "guests leave the watch alone, from: guests, to: [watch, quay, boats],",
        ],
      );
      expect((await firstRepairs(plan))["guests leave the watch alone"]).toContain(
        "in: guests, out: wan, action: accept }",
      );
    },
    NO_TIME_OUT,
  );

  test(
    "two rules in the wrong order, where the rule below opens what was asked",
    async () => {
      const plan = lighthouse([SWAP, SWAPPED]);
      const [narrow, wide] = await mendingsOf(plan);
      // From the keeper to the lamp less is asked than the rule below opens.
      expect(narrow?.repairs.map(({ kind }) => kind)).toEqual(["rule"]);
      const order = wide?.repairs.find(({ kind }) => kind === "order");
      expect(order?.text).toBe(
        "let `the lamp is left alone` and `the watch turns the lamp` change places in the `through` list of tower",
      );
      expect(order?.mends).toEqual(["the watch turns the lamp"]);
      // The comment stays with the line that it stands above.
      expect(order && after(plan, order).files[1]?.text).toBe(lighthouse().files[1]?.text);
    },
    NO_TIME_OUT,
  );

  test(
    "a route that is missing",
    async () => {
      const plan = lighthouse(["    routes:\n      - { to: boats, via: 10.88.40.2 }   # by the store\n", ""]);
      const route = "route\n+ routes: [{ to: 10.88.50.0/24, via: 10.88.40.2 }]";
      expect(await firstRepairs(plan)).toEqual({ "the watch works the winch": route, "the winch gets a lease": route });
    },
    NO_TIME_OUT,
  );

  test(
    "a route by a neighbour that is not there, its comment kept",
    async () => {
      const plan = lighthouse(["to: boats, via: 10.88.40.2 }", "to: boats, via: 10.88.40.7 }"]);
      expect((await firstRepairs(plan))["the watch works the winch"]).toBe(
        "route\n- - { to: boats, via: 10.88.40.7 }   # by the store\n+ - { to: boats, via: 10.88.40.2 }   # by the store",
      );
    },
    NO_TIME_OUT,
  );

  test(
    "a relay that is missing",
    async () => {
      const plan = lighthouse(["    relay: { in: { to: tower/quay } }\n", ""]);
      const relay = "relay\n+ relay: { in: { to: tower/quay } }";
      expect(await firstRepairs(plan)).toEqual({ "the watch works the winch": relay, "the winch gets a lease": relay });
    },
    NO_TIME_OUT,
  );

  test(
    "a rule that lets in what a relay carries",
    async () => {
      const plan = lighthouse([
        "          - { name: boat leases, in: quay, source: boats, dest: tower/quay, service: udp/67, action: accept }\n",
        "",
      ]);
      const rule = "rule\n+ - { name: udp/67 from quay, in: quay, dest: tower/quay, service: udp/67, action: accept }";
      expect(await firstRepairs(plan)).toEqual({ "the watch works the winch": rule, "the winch gets a lease": rule });
    },
    NO_TIME_OUT,
  );

  test(
    "a leg whose gateway nobody is",
    async () => {
      const plan = lighthouse(["host: 10, gateway: 10.88.20.1 ", "host: 10, gateway: 10.88.20.254 "]);
      const leg = "network: light, host: 10, gateway: 10.88.20.1 }";
      expect(await firstRepairs(plan)).toEqual({
        "the watch turns the lamp": expect.stringMatching(new RegExp(`^leg\n(?:.|\n)*\\+ .*${leg}`)),
        "the lamp is open to nothing else": expect.stringMatching(/^leg\n/),
      });
    },
    NO_TIME_OUT,
  );
});

describe("a repair is not told", () => {
  test(
    "where nothing of these kinds helps: the lamp serves another port",
    async () => {
      const plan = lighthouse(["serves: { tcp/502: all }", "serves: { tcp/503: all }"]);
      const mendings = await mendingsOf(plan);
      expect(mendings.length).toBeGreaterThan(0);
      expect(mendings.map(({ repairs }) => repairs)).toEqual(mendings.map(() => []));
    },
    NO_TIME_OUT,
  );

  test(
    "where it would break what holds",
    async () => {
      // The only way to let the guests reach the lamp is to open what another assertion forbids.
      const plan = lighthouse([
        "guests go out, from: guest, to: internet, service: tcp/443",
        "guests go out, from: guest, to: lamp, service: tcp/502",
      ]);
      expect(endsOf(plan).get("guests go out")).toBe("failed");
      const [mending] = await mendingsOf(plan);
      expect(mending?.repairs).toEqual([]);
      expect(mending?.tried).toBeGreaterThan(0);
      expect(mending?.refused).toEqual({ edits: 4, costs: "the lamp is open to nothing else" });
    },
    NO_TIME_OUT,
  );
});

test(
  "what was found for another assertion and mends this one, too, is told of it where nothing else is",
  async () => {
    const plan = lighthouse(["p4: { untagged: guests,", "p4: { untagged: watch,"]);
    const mendings = await mendingsOf(plan);
    const alone = mendings.find(({ id }) => id.endsWith("#guests leave the lamp alone"));
    expect(alone).toMatchObject({ tried: 0, repairs: [{ kind: "tag" }] });
    for (const repair of alone?.repairs ?? [])
      expect(faultsOf(plan, "guests leave the lamp alone", repair)).toEqual([]);
  },
  NO_TIME_OUT,
);

test(
  "the same plan has the same repairs",
  async () => {
    const plan = lighthouse([SWAP, SWAPPED]);
    expect(await mendingsOf(plan)).toEqual(await mendingsOf(plan));
  },
  NO_TIME_OUT,
);

test.each([
  ["two rules in the wrong order", [SWAP, SWAPPED]],
  ["a rule that is too wide", ["{ name: guests go out, in: guests, out: wan,", "{ name: guests go out, in: guests,"]],
] as const)(
  "whoever helps, the repairs are the same: %s",
  async (_, edit) => {
    const plan = lighthouse(edit);
    const asked: number[] = [];
    expect(await mendingsOf(plan, helpersOn(plan, 2, asked))).toEqual(await mendingsOf(plan));
    expect(asked.length).toBeGreaterThan(1);
  },
  NO_TIME_OUT,
);
