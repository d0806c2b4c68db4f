/**
 * The built command: README's site on a real kernel, what is said where something is missing, and that a command which is
 * killed at any moment leaves no process, namespace, mount or file behind.
 */
import { expect } from "vitest";
import { dryrack, emptyFolder } from "../cli/command.ts";
import { needsNamespaces } from "../support/needs.ts";
import { killed, type Moment, readmeSite, started } from "./killing.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq");

describe("kernel SITE", () => {
  it("has README's site answered alike, and tells what it could not send", () => {
    const { status, output, errors } = dryrack(readmeSite(), ["kernel", "site"], { NO_COLOR: "1" });
    expect(errors).toBe("");
    expect(status).toBe(4);
    expect(output).toContain("= agrees       the office sees the camera\n   answered; camera sees 10.90.10.100 to");
    expect(output).toContain(
      "= agrees       the camera gets a lease\n   10.90.20.100/24 from router; router 10.90.20.1",
    );
    expect(output).toMatch(/\? in part {6}cameras cannot phone home\n.*a packet with a tag that enters at/);
    expect(output).toMatch(
      /\nsite: 2 in part, 3 agree, 1 without an exchange; \d+ questions put to namespaces of Linux/,
    );
  });

  it("says which programs to install", () => {
    const { status, errors, output } = dryrack(readmeSite(), ["kernel", "site"], { PATH: emptyFolder() });
    expect([status, output]).toEqual([2, ""]);
    expect(errors).toMatch(/`python3` is not installed: apt-get install python3/);
  });

  it("shows what would be typed, one kind of thing a file", () => {
    const { status, output } = dryrack(readmeSite(), ["kernel", "--show", "site"]);
    expect(status).toBe(0);
    for (const file of [
      "cables.batch",
      "router/bridge.batch",
      "router/address.batch",
      "router/rules.nft",
      "router/dnsmasq.conf",
    ])
      expect(output).toContain(`\n# ${file}`);
  });
});

const servesLeases = started("dnsmasq");
const MOMENTS: readonly Moment[] = [
  ["at once", () => true, 0],
  ["when its helper starts", ({ made }) => made.size > 0, 0],
  ["while it makes namespaces", ({ held }) => held.size > 3, 0],
  ["while leases are taken", servesLeases, 0],
  ["among the first probes", servesLeases, 500],
  ["among the later probes", servesLeases, 2000],
];

describe("a command that is killed", () => {
  it.each(MOMENTS)("%s leaves nothing behind", async (...moment) => {
    await killed({ words: ["kernel", "site"], moment });
  });
});
