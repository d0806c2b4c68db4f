/** A machine of its own, under emulation and without privilege, holds sites as the host does. */
import { afterAll, beforeAll, expect } from "vitest";
import { Rack, startMachine } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { row } from "./row.ts";

const { describe, it } = needs("qemu-system-x86_64");

describe("a machine under emulation", () => {
  let rack: Rack;
  beforeAll(async () => {
    rack = new Rack(await startMachine());
  }, 120_000);
  afterAll(() => rack.stop());

  it("answers as the model does, whatever the exchange", async () => {
    const site = await judged(
      rack,
      ...row({
        edge: "filter: { through: { otherwise: accept, rules: [{ name: no, service: tcp/23, action: drop }] } }",
      }),
    );
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9");
    expect(await site.ask("desk", "ping6", "fd31:2::9")).toBe("answered; shelf sees fd31:1::9 to fd31:2::9");
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:53");
    expect(await site.ask("desk", "tcp/23", "10.31.2.9")).toBe("silent");
    expect(await site.ask("desk", "udp/53", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
  });
});
