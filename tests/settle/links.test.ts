import { describe, expect, test } from "vitest";
import { settle } from "../../src/settle/index.ts";
import { plan } from "./plan.ts";

const pair = () => plan().device("a", ["p"]).device("b", ["p", "q"]).cable("a:p", "b:p");

describe("carrier", () => {
  test("a cable between two live ports is up, a port without a cable is not", () => {
    expect(settle(pair().build()).down).toEqual(["b:q"]);
  });

  test("a failed cable, port, device or shared fate takes both ends down", () => {
    const network = pair()
      .cable("a:p", "b:q", { downWith: ["duct"] })
      .build();
    expect(settle(network, { down: ["a:p--b:p"] }).down).toEqual(["a:p--b:p", "b:p"]);
    expect(settle(network, { down: ["duct"] }).down).toEqual(["a:p--b:q", "b:q"]);
    expect(settle(network, { down: ["a:p"] }).down).toEqual(["a:p", "a:p--b:p", "a:p--b:q", "b:p", "b:q"]);
    expect(settle(network, { down: ["a"] }).down).toEqual(["a:p", "a:p--b:p", "a:p--b:q", "b:p", "b:q"]);
  });

  test("a link on demand is down until it is asked for", () => {
    const network = pair().cable("a:p", "b:q", { onDemand: true }).build();
    expect(settle(network).down).toContain("a:p--b:q");
    expect(settle(network, { up: ["a:p--b:q"] }).down).toEqual([]);
  });

  test("a device powered over its cable dies with the cable and with the powering device", () => {
    const network = plan()
      .device("switch", ["p1", "p2"])
      .device("point", ["up", "down"], { is: "access-point", poweredBy: ["switch:p1"] })
      .device("other", ["nic"])
      .cable("switch:p1", "point:up")
      .cable("point:down", "other:nic")
      .build();
    expect(settle(network).down).toEqual(["switch:p2"]);
    expect(settle(network, { down: ["switch"] }).down).toContain("other:nic");
    expect(settle(network, { down: ["switch:p1--point:up"] }).down).toContain("other:nic");
  });

  test("devices that power one another in a circle have no power", () => {
    const network = plan()
      .device("a", ["p"], { poweredBy: ["b:p"] })
      .device("b", ["p"], { poweredBy: ["a:p"] })
      .cable("a:p", "b:p")
      .build();
    expect(settle(network).down).toEqual(["a:p", "a:p--b:p", "b:p"]);
  });
});

describe("access points", () => {
  const radio = { kind: "radio" } as const;
  const network = plan()
    .device("loft", ["air"], { is: "access-point" })
    .device("barn", ["air"], { is: "access-point" })
    .device("phone", ["wlan"], { is: "host" })
    .cable("phone:wlan", "barn:air", radio)
    .cable("phone:wlan", "loft:air", radio)
    .build();

  test("a station with two in reach is on one, which stays open", () => {
    const { choices, down } = settle(network);
    const options = ["phone:wlan--barn:air", "phone:wlan--loft:air"];
    expect(choices).toMatchObject([{ kind: "access-point", id: "phone:wlan/access-point", options }]);
    expect(down).toEqual(["loft:air", "phone:wlan--loft:air"]);
  });

  test("a pick puts it on the other", () => {
    const picks = [{ choice: "phone:wlan/access-point", option: "phone:wlan--loft:air" }];
    expect(settle(network, { picks }).down).toEqual(["barn:air", "phone:wlan--barn:air"]);
  });

  test("an access point that fails is no longer a choice", () => {
    expect(settle(network, { down: ["barn"] }).choices).toEqual([]);
  });
});
