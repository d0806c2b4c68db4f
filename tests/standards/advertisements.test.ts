/**
 * Published values of router advertisements and stateless addresses: RFC 4861, 4862, 2464. `[D]` is worked out from a
 * printed rule. Numbers are those of the project's catalogue.
 */
import { describe, expect, test } from "vitest";
import { formatAddress, parseAddress } from "../../src/address/index.ts";
import type { Advertise } from "../../src/network/index.ts";
import {
  ADVERTISER_CONSTANTS,
  type AdvertiserState,
  AUTOCONFIGURATION_CONSTANTS,
  type AutoconfigurationState,
  advertisementOf,
  advertiserWakeMs,
  autoconfigurationWakeMs,
  minimumInterval,
  NEIGHBOUR_SETTINGS,
  NEW_AUTOCONFIGURATION,
  renewedValidity,
  SILENT_ADVERTISER,
  stepAdvertiser,
  stepAutoconfiguration,
} from "../../src/protocol/index.ts";
import type { RouterAdvertisement } from "../../src/wire/index.ts";
import { networkOf } from "../support/site.ts";

const HOUR = 3600;

function six(text: string): bigint {
  const address = parseAddress(text);
  if (address?.family !== 6) throw new Error(text);
  return address.value;
}

const ROUTER = { family: 6, value: six("fe80::1") } as const;
const HOST = { hardware: 0x3456789abcden };

const service = (more: Partial<Advertise> = {}, prefix: Partial<Advertise["prefixes"][number]> = {}): Advertise => ({
  kind: "advertise",
  interface: "edge/crew",
  routerSeconds: 1800,
  preference: "medium",
  prefixes: [
    {
      value: six("2001:db8:0:2::"),
      length: 64,
      onLink: true,
      autonomous: true,
      validSeconds: 2_592_000,
      preferredSeconds: 604_800,
      ...prefix,
    },
  ],
  resolvers: [],
  ...more,
});

const message = (
  more: Partial<Advertise> = {},
  prefix: Partial<Advertise["prefixes"][number]> = {},
): RouterAdvertisement => advertisementOf({ service: service(more, prefix), hardware: 0x02n });

/** A host after an advertisement at a time in seconds, and its probe. */
function hears(state: AutoconfigurationState, seconds: number, told: RouterAdvertisement): AutoconfigurationState {
  const nowMs = seconds * 1000;
  const received = stepAutoconfiguration(HOST, state, { kind: "received", from: ROUTER, message: told }, nowMs).state;
  return stepAutoconfiguration(HOST, received, { kind: "timer" }, nowMs + AUTOCONFIGURATION_CONSTANTS.probeMs).state;
}

describe("V8: constants, RFC 4861 section 10", () => {
  test("of routers: 16 s, 3, 3 s, half a second", () => {
    const { initialIntervalSeconds, initialAdvertisements, minimumDelaySeconds, answerDelaySeconds } =
      ADVERTISER_CONSTANTS;
    expect([initialIntervalSeconds, initialAdvertisements, minimumDelaySeconds, answerDelaySeconds]).toEqual([
      16, 3, 3, 0.5,
    ]);
  });

  test("of hosts: RTR_SOLICITATION_INTERVAL 4 s, MAX_RTR_SOLICITATIONS 3: asked at 0, 4 and 8 s, then never", () => {
    const times: number[] = [];
    let result = stepAutoconfiguration(HOST, NEW_AUTOCONFIGURATION, { kind: "link-up" }, 0);
    for (let nowMs: number | undefined = 0; nowMs !== undefined; nowMs = autoconfigurationWakeMs(result.state)) {
      if (nowMs > 0) result = stepAutoconfiguration(HOST, result.state, { kind: "timer" }, nowMs);
      if (result.actions.some((action) => action.do === "solicit")) times.push(nowMs / 1000);
    }
    expect(times).toEqual([0, 4, 8]);
  });

  test("of nodes: MAX_MULTICAST_SOLICIT 3, RETRANS_TIMER 1 000 ms, REACHABLE_TIME 30 000 ms", () => {
    expect(NEIGHBOUR_SETTINGS).toEqual({ tries: 3, retryMs: 1000, reachableMs: 30_000, staleMs: 8000 });
  });

  test("an answer comes within half a second, and 3 s after the last advertisement at the soonest", () => {
    const settings = { service: service(), hardware: 2n };
    const began = stepAdvertiser(settings, SILENT_ADVERTISER, { kind: "start" }, 0).state;
    const asked = (seconds: number, state: AdvertiserState = began) =>
      (advertiserWakeMs(stepAdvertiser(settings, state, { kind: "solicited" }, seconds * 1000).state) ?? 0) / 1000;
    expect(asked(1)).toBe(3.25);
    expect(asked(10)).toBe(10.25);
    expect(asked(15.9)).toBe(16); // the plan for the next one is sooner
  });
});

describe("V9: defaults, RFC 4861 section 6.2.1", () => {
  test("an interface advertises nothing until it is told to", () => {
    expect(stepAdvertiser({ service: service(), hardware: 2n }, SILENT_ADVERTISER, { kind: "solicited" }, 0)).toEqual({
      state: SILENT_ADVERTISER,
      actions: [],
    });
  });

  test("MaxRtrAdvInterval 600 s, MinRtrAdvInterval 0.33 of it: 198 s [D], below 9 s the same", () => {
    expect(ADVERTISER_CONSTANTS.maximumIntervalSeconds).toBe(600);
    expect([minimumInterval(600), minimumInterval(8)]).toEqual([198, 8]);
    const delays = [-1, 1].map((fuzz) => {
      const settings = { service: service(), hardware: 2n, fuzz: () => fuzz };
      let state: AdvertiserState = SILENT_ADVERTISER;
      state = stepAdvertiser(settings, state, { kind: "start" }, 0).state;
      for (let sent = 1; sent < 4; sent++) {
        state = stepAdvertiser(settings, state, { kind: "timer" }, advertiserWakeMs(state) ?? 0).state;
      }
      return state.state === "advertising" ? (state.nextMs - (state.lastMs ?? 0)) / 1000 : 0;
    });
    expect(delays).toEqual([198, 600]);
  });

  test("the documents' defaults: lifetime 1800 s [D: 3 x 600], valid 30 days, preferred 7 days, on link, autonomous", () => {
    const network = networkOf(
      "devices: { edge: { is: router, ports: { lan1: 1G } } }",
      'networks: { crew: { vlan: 30, ipv6: "2001:db8:0:2::/64" } }\ndevices: { edge: { interfaces: { crew: { network: crew, port: lan1, host: 1 } }, advertise: { crew: {} } } }',
    );
    const told = network.services.filter(({ kind }) => kind === "advertise");
    const prefix = { onLink: true, autonomous: true, validSeconds: 2_592_000, preferredSeconds: 604_800 };
    expect(told).toMatchObject([{ routerSeconds: 1800, prefixes: [prefix] }]);
  });

  test("flags M and O are not set", () => {
    expect(message()).toMatchObject({ managed: false, other: false, routerLifetimeSeconds: 1800 });
  });
});

describe("V10: stateless addresses, RFC 4862", () => {
  test("section 5.1: one probe, an address is tentative until it stayed unanswered", () => {
    const told = { kind: "received", from: ROUTER, message: message() } as const;
    const first = stepAutoconfiguration(HOST, NEW_AUTOCONFIGURATION, told, 0);
    expect(first.actions.map((action) => action.do)).toEqual(["probe"]);
    const done = stepAutoconfiguration(HOST, first.state, { kind: "timer" }, 1000);
    expect(done.actions.map((action) => action.do)).toEqual(["add"]);
    const address = first.state.addresses[0]?.address ?? ROUTER;
    const refused = stepAutoconfiguration(HOST, first.state, { kind: "duplicate", address }, 500);
    expect(refused.state.addresses).toEqual([]);
  });

  test.each([
    ["10 h left, 1 h received: 2 h", 10, 1, 2],
    ["1 h left, 30 min received: stays 1 h", 1, 0.5, 1],
    ["1 h left, 3 h received: 3 h", 1, 3, 3],
    ["10 h left, 3 h received: 3 h", 10, 3, 3],
    ["2 h left, 1 h received: stays 2 h", 2, 1, 2],
  ])("section 5.5.3 e: %s [D]", (_, left, received, after) => {
    expect(renewedValidity(left * HOUR, received * HOUR)).toBe(after * HOUR);
    const start = hears(
      NEW_AUTOCONFIGURATION,
      0,
      message({}, { validSeconds: (left + 1) * HOUR, preferredSeconds: HOUR }),
    );
    const later = hears(start, HOUR, message({}, { validSeconds: received * HOUR, preferredSeconds: 60 }));
    expect(later.addresses[0]?.validUntilMs).toBe((1 + after) * HOUR * 1000);
    expect(later.addresses[0]?.preferredUntilMs).toBe(HOUR * 1000 + 60_000);
  });

  test.each([
    ["a: not autonomous", { autonomous: false }, 0],
    ["b: the link-local prefix", { value: six("fe80::") }, 0],
    ["c: preferred longer than valid", { preferredSeconds: 10, validSeconds: 9 }, 0],
    ["d: valid for no time", { preferredSeconds: 0, validSeconds: 0 }, 0],
    ["d: otherwise", {}, 1],
  ])("section 5.5.3 %s", (_, prefix, addresses) => {
    expect(hears(NEW_AUTOCONFIGURATION, 0, message({}, prefix)).addresses).toHaveLength(addresses);
  });

  test("an address is gone when its time is over", () => {
    const state = hears(NEW_AUTOCONFIGURATION, 0, message({}, { validSeconds: 100, preferredSeconds: 50 }));
    const over = stepAutoconfiguration(HOST, state, { kind: "timer" }, 100_000);
    expect(over.state.addresses).toEqual([]);
    expect(over.actions.map((action) => action.do)).toEqual(["remove"]);
  });
});

describe("V11: RFC 2464 section 4", () => {
  test("the address is the prefix with the modified EUI-64 of the hardware address", () => {
    const [formed] = hears(NEW_AUTOCONFIGURATION, 0, message()).addresses;
    expect(formed && formatAddress(formed.address)).toBe("2001:db8:0:2:3656:78ff:fe9a:bcde");
  });

  test.each([63, 65, 72])("a prefix of %d bits forms none on Ethernet, though it is on link", (length) => {
    const state = hears(NEW_AUTOCONFIGURATION, 0, message({}, { length }));
    expect(state.addresses).toEqual([]);
    expect(state.prefixes).toMatchObject([{ prefix: { length } }]);
  });
});

describe("default routers, RFC 4861 sections 6.2.5 and 6.3.4", () => {
  test("last for their lifetime, are renewed, and end with lifetime 0", () => {
    const state = hears(NEW_AUTOCONFIGURATION, 0, message());
    expect(state.routers).toEqual([{ address: ROUTER, preference: "medium", untilMs: 1_800_000 }]);
    expect(hears(state, 100, message()).routers).toMatchObject([{ untilMs: 1_900_000 }]);
    expect(hears(state, 100, message({ routerSeconds: 0 })).routers).toEqual([]);
    expect(stepAutoconfiguration(HOST, state, { kind: "timer" }, 1_800_000).state.routers).toEqual([]);
  });

  test("an advertiser that stops says farewell with lifetime 0", () => {
    const settings = { service: service(), hardware: 2n };
    const began = stepAdvertiser(settings, SILENT_ADVERTISER, { kind: "start" }, 0).state;
    const stopped = stepAdvertiser(settings, began, { kind: "stop" }, 5000);
    expect(stopped.actions).toMatchObject([{ do: "send", message: { routerLifetimeSeconds: 0 } }]);
    expect(stopped.state).toEqual(SILENT_ADVERTISER);
  });

  test("an advertisement with a lifetime ends soliciting, one without does not (section 6.3.7)", () => {
    const asking = stepAutoconfiguration(HOST, NEW_AUTOCONFIGURATION, { kind: "link-up" }, 0).state;
    const stateAfter = (told: RouterAdvertisement) =>
      stepAutoconfiguration(HOST, asking, { kind: "received", from: ROUTER, message: told }, 100).state.state;
    expect([stateAfter(message()), stateAfter(message({ routerSeconds: 0 }))]).toEqual(["listening", "soliciting"]);
  });

  test("resolvers and MTU are taken (RFC 8106, from memory; RFC 4861 section 4.6.4)", () => {
    const state = hears(NEW_AUTOCONFIGURATION, 0, message({ resolvers: [six("2001:db8::53")], mtu: 1400 }));
    expect(state).toMatchObject({ resolvers: [{ address: { value: six("2001:db8::53") } }], mtu: 1400 });
  });
});
