/**
 * Code tests of the demo, as its owner would write them: they import the built package by its name and know nothing of its
 * sources. `npm run build` first, or `npm test`, which does it.
 */
import { loadSite } from "dryrack";
import { describe, expect, test } from "vitest";
import "dryrack/vitest";

const site = await loadSite("topologies/tidewater-radio");
const EDGE = "topologies/tidewater-radio/edge.yaml";

test("everything that the documents demand holds", () => {
  expect(site).toHold();
});

describe("visitors", () => {
  test.each(["management", "studio", "crew", "rescue"])("never get to %s", (network) => {
    expect(site.from("visitors").to(network)).toBlock();
  });

  test("get out, through the router", () => {
    expect(site.from("visitors").to("internet", ["tcp/443", "udp/443"])).toConnect({ through: "edge" });
  });

  test("get an address, and the router that leads out", () => {
    expect(site.client("phone")).toLease({ address: "10.71.40.100-199", router: "edge/visitors" });
  });
});

describe("the newsdesk", () => {
  test("gets to the archive without being routed", () => {
    expect(site.from("newsdesk").to("archive/b", "tcp/443")).toConnect({ routed: "never" });
  });
});

describe("without the rule for visitors", () => {
  const shut = site.replacing(EDGE, "- { name: visitors go out,", "- { name: visitors go out, service: udp/123,");

  test("they cannot browse, and still get an address", () => {
    expect(shut.from("visitors").to("internet", "tcp/443")).toBlock();
    expect(shut.client("phone")).toLease();
  });

  test("the assertion that names them is broken, and no other", () => {
    const broken = shut.check().results.filter(({ status }) => status !== "passed");
    expect(broken.map(({ name }) => name)).toEqual(["visitors reach the internet"]);
  });
});

test("a rule that lets visitors in anywhere would be seen", () => {
  const open = site.replacing(
    EDGE,
    "name: visitors go out, in: visitors, out: wan",
    "name: visitors go out, in: visitors",
  );
  expect(open.from("visitors").to("management")).not.toBlock();
});
