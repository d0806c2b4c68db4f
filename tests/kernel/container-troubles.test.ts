/** What is said where no container can be had: the package, an engine or the image is missing. */
import { spawnSync } from "node:child_process";
import { cpSync } from "node:fs";
import { join, resolve } from "node:path";
import { beforeEach, describe, expect, it, vi } from "vitest";
import { containerTroubles } from "../../src/kernel/container.ts";
import { emptyFolder } from "../cli/command.ts";

const run = vi.hoisted(() => ({ engine: vi.fn(), prepareImage: vi.fn(), imageName: () => "dryrack-machine:1" }));
vi.mock("../../src/kernel/container-run.ts", () => run);
beforeEach(() => {
  run.engine.mockResolvedValue({});
  run.prepareImage.mockResolvedValue(undefined);
});

describe("a container", () => {
  it("needs the package, and the command says how to get it", () => {
    const folder = emptyFolder();
    cpSync("dist", join(folder, "dist"), { recursive: true });
    const words = [join(folder, "dist/cli.js"), "kernel", resolve("topologies/corner-bakery"), "--container"];
    const { status, stderr } = spawnSync(process.execPath, words, { encoding: "utf8" });
    expect(stderr).toBe(
      "the package `testcontainers` is not installed: npm install testcontainers@11, or\n   use `--machine`\n",
    );
    expect(status).toBe(2);
  });

  it("needs an engine that answers", async () => {
    run.engine.mockRejectedValue(new Error("nobody there"));
    expect(await containerTroubles()).toEqual([
      expect.stringMatching(/^no container engine answers: .* DOCKER_HOST .*/),
    ]);
  });

  it("needs its image, and the way without a registry is told", async () => {
    run.prepareImage.mockRejectedValue(new Error("no such host"));
    const [trouble = ""] = await containerTroubles();
    expect(trouble).toMatch(
      /could not be built: no such host\n.* sh \S*\/image\/container\.sh FOLDER dryrack-machine:1$/,
    );
  });

  it("can be had where all of these are there", async () => {
    expect(await containerTroubles()).toEqual([]);
  });
});
