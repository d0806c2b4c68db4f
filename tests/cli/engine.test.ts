/** Options of the engine that a command sets for itself: an engine that does not know one complains on the terminal. */
import { spawnSync } from "node:child_process";
import { describe, expect, it } from "vitest";

describe("a command", () => {
  it("sets no option that this engine does not know", () => {
    const { status, stderr, stdout } = spawnSync(process.execPath, ["dist/cli.js", "explain", "vlan"], {
      encoding: "utf8",
    });
    expect({ status, stderr }).toEqual({ status: 0, stderr: "" });
    expect(stdout).toContain("vlan");
  });
});
