/**
 * Input that means harm, and exit statuses that a script relies on.
 */
import { spawnSync } from "node:child_process";
import { mkdirSync, symlinkSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { afterEach, describe, expect, it, vi } from "vitest";
import { runCheck } from "../../src/cli/check.ts";
import { hidesBreaches, planting } from "../evaluate/planted.ts";
import { ASSERTIONS, copyOfFerry, dryrack, emptyFolder, INTENT, TOPOLOGY } from "./command.ts";

afterEach(() => {
  vi.restoreAllMocks();
});

/** Text without its line breaks. */
const flat = (text: string): string => text.replaceAll(/\s+/g, " ");

describe("a file outside the repository", () => {
  it.each([
    ["the plan", "topologies/ferry/extra.yaml"],
    ["the assertions", "assertions/ferry/extra.yaml"],
  ])("is not read through a link among %s", (_what, link) => {
    const outside = join(emptyFolder(), "secret.yaml");
    writeFileSync(outside, "dryrack: intent/1\nnetworks: { hidden-word: { vlan: 9 } }\n");
    const folder = copyOfFerry();
    symlinkSync(outside, join(folder, link));
    const { status, output, errors } = dryrack(folder, ["check"]);
    expect(status).toBe(2);
    expect(flat(errors)).toContain(`\`${link}\` leads out of the repository (outside-repository)`);
    expect(output + errors).not.toContain("hidden-word");
  });

  it("is read where the link stays inside", () => {
    const folder = copyOfFerry();
    mkdirSync(join(folder, "shared"));
    writeFileSync(join(folder, "shared/more.yaml"), "dryrack: intent/1\nsets: { tills: [till] }\n");
    symlinkSync("../../shared/more.yaml", join(folder, "topologies/ferry/more.yaml"));
    expect(dryrack(folder, ["check"]).status).toBe(0);
  });

  it("a link that leads nowhere, a pipe or a folder of that name is no file", () => {
    const folder = copyOfFerry();
    symlinkSync("nowhere.yaml", join(folder, "topologies/ferry/gone.yaml"));
    mkdirSync(join(folder, "topologies/ferry/folder.yaml"));
    const { status, errors } = dryrack(folder, ["check"]);
    expect(status).toBe(2);
    expect(flat(errors)).toContain("`topologies/ferry/gone.yaml` cannot be read (unreadable)");
    expect(errors).not.toContain("folder.yaml");
  });
});

describe("names", () => {
  const LONG = "x".repeat(10_000);
  const EVIL = "a\\u001b[31m\\u202eb</testcase><script>&amp;'\\\"`$(x)`";

  it("of 10,000 letters are told as they are where they may stand, and refused where not", () => {
    const named = copyOfFerry([ASSERTIONS, "name: passengers go ashore", `name: ${LONG}`]);
    for (const format of ["terminal", "json", "junit"]) {
      const { status } = dryrack(named, ["check", "--format", format]);
      expect([0, 2]).toContain(status);
    }
    const device = dryrack(copyOfFerry([TOPOLOGY, "till: {", `${LONG}: {`]), ["check"]);
    expect(device.status).toBe(2);
    expect(device.errors.length).toBeLessThan(20_000);
    expect(dryrack(copyOfFerry(), ["trace", "ferry", LONG, "radar", "tcp/80"]).status).toBe(2);
    expect(dryrack(copyOfFerry(), ["explain", LONG]).status).toBe(2);
    expect(dryrack(copyOfFerry(), ["check", LONG]).status).toBe(2);
  });

  it("that try to leave their place stay in it, in every report", () => {
    const folder = copyOfFerry(
      [ASSERTIONS, "name: passengers stay away from the instruments", `name: "${EVIL}"`],
      [INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"],
    );
    for (const format of ["terminal", "json", "junit"]) {
      const { status, output, errors } = dryrack(folder, ["check", "--format", format]);
      expect([1, 2]).toContain(status);
      for (const unsafe of ["\u001b", "\u202e"]) expect(output + errors).not.toContain(unsafe);
      if (format === "junit") expect(output).not.toContain("<script>");
    }
  });
});

describe("exit statuses", () => {
  const options = { format: ["json"], output: [], only: [], bail: false, verbose: false } as const;

  it("3: engines that disagree give no verdict, and both fates are named", async () => {
    const folder = copyOfFerry([INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"]);
    let output = "";
    vi.spyOn(process.stdout, "write").mockImplementation((text) => {
      output += String(text);
      return true;
    });
    const status = await runCheck([folder], options, planting(hidesBreaches));
    expect(status).toBe(3);
    const report = JSON.parse(output);
    expect(report).toMatchObject({ status: "fault", results: [] });
    // Nobody listens there: the packet has arrived where its port is refused.
    expect(report.fault).toMatch(/proved: dropped at .*; simulated: .*(put on|delivered|refused at radar\/stack)/);
  });

  it("3 outranks an output that cannot be written", async () => {
    const folder = copyOfFerry([INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"]);
    vi.spyOn(process.stderr, "write").mockReturnValue(true);
    expect(await runCheck([folder], { ...options, output: [folder] }, planting(hidesBreaches))).toBe(3);
  });

  it("2: a folder without sites, or that is not there", () => {
    for (const words of [["check"], ["check", "gone"], ["trace", "gone", "a", "b", "tcp/1"]]) {
      expect(dryrack(emptyFolder(), words).status).toBe(2);
    }
  });

  it("of several: a failure outranks what nobody knows, wrong input outranks a failure", () => {
    const leak = [INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"] as const;
    const unknown = [INTENT, "service: tcp/80, action: accept", "service: tcp/80, action: unknown, note: old"] as const;
    const wrong = [INTENT, "vlan: 20", "vlan: 5000"] as const;
    expect(dryrack(copyOfFerry(unknown), ["check"]).status).toBe(4);
    expect(dryrack(copyOfFerry(unknown, leak), ["check"]).status).toBe(1);
    expect(dryrack(copyOfFerry(unknown, leak, wrong), ["check"]).status).toBe(2);
  });
});

describe("a reader that has seen enough", () => {
  it("closes the pipe in silence", () => {
    const command = `"${process.execPath}" "${resolve("dist/cli.js")}" schema intent; echo "status $?" >&2`;
    const { stderr } = spawnSync("sh", ["-c", `{ ${command}; } | head -c 1`], { encoding: "utf8" });
    expect(stderr).toBe("status 0\n");
  });
});
