/**
 * Tests that need a program of the system, or the right to build network namespaces.
 *
 *     const { describe, it } = needs("tshark");            // or needs("ip", "nft")
 *     const { describe, it } = needsNamespaces("nft");     // also root and network namespaces; `ip` is implied
 *     describe("captures", () => { it("are read without complaint", ...) });
 *     const { describe, it } = needsContainers();          // a container engine that answers
 *     const program = toolPath("tshark");                  // full path, /usr/sbin included
 *
 * Where everything is present these are vitest's own. Else the suite is skipped and one line says which Debian
 * package to install; with CI_NO_SKIP=1 in the environment it fails instead.
 */
import { spawnSync } from "node:child_process";
import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";
import * as vitest from "vitest";

/** Each program that a test may ask for, with the Debian package that brings it. `.ci/run` installs them all. */
export const DEBIAN_PACKAGES = {
  bridge: "iproute2",
  chromium: "chromium",
  dnsmasq: "dnsmasq-base",
  dockerd: "docker.io",
  git: "git",
  ip: "iproute2",
  mmdebstrap: "mmdebstrap",
  nc: "netcat-openbsd",
  nft: "nftables",
  ping: "iputils-ping",
  python3: "python3",
  "qemu-system-x86_64": "qemu-system-x86",
  radvd: "radvd",
  ss: "iproute2",
  sysctl: "procps",
  tcpdump: "tcpdump",
  tshark: "tshark",
  unshare: "util-linux",
  xmllint: "libxml2-utils",
} as const;

/** A program that a test may ask for. */
export type Tool = keyof typeof DEBIAN_PACKAGES;

/** vitest's own `describe` and `it`, or the ones that skip or fail. */
export type Offered = { readonly describe: typeof vitest.describe; readonly it: typeof vitest.it };

/** Offers `describe` and `it` that run where all of the programs are present. */
export function needs(...tools: readonly [Tool, ...Tool[]]): Offered {
  return offer(missingTools(tools));
}

/** Like `needs`, and asks for root and network namespaces too. */
export function needsNamespaces(...tools: readonly Tool[]): Offered {
  const missing = missingTools(["ip", "unshare", ...tools]);
  return offer(
    missing.length > 0 || canUnshare() ? missing : ["root, and a kernel that lets it make network namespaces"],
  );
}

/** Like `needs`, and asks for a container engine that answers where DOCKER_HOST says, a socket; `.ci/run` starts one. */
export function needsContainers(...tools: readonly Tool[]): Offered {
  const missing = missingTools(["dockerd", "mmdebstrap", ...tools]);
  return offer(
    missing.length > 0 || engineAnswers() ? missing : ["a container engine, and DOCKER_HOST to name its socket"],
  );
}

/** Full path of a program; throws where it is missing, so ask under `needs`. */
export function toolPath(tool: Tool): string {
  const path = findTool(tool);
  if (path === undefined) throw new Error(`${tool} is not installed: apt-get install ${DEBIAN_PACKAGES[tool]}`);
  return path;
}

/** System programs lie in folders that an ordinary user's PATH often lacks. */
const FOLDERS = [...(process.env.PATH ?? "").split(delimiter), "/usr/sbin", "/sbin"];

function findTool(tool: string): string | undefined {
  return FOLDERS.map((folder) => join(folder, tool)).find(isExecutable);
}

function isExecutable(path: string): boolean {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

function missingTools(tools: readonly Tool[]): string[] {
  const absent = tools.filter((tool) => findTool(tool) === undefined);
  return absent.map((tool) => `${tool} (apt-get install ${DEBIAN_PACKAGES[tool]})`);
}

function canUnshare(): boolean {
  return spawnSync(toolPath("unshare"), ["--net", "true"]).status === 0;
}

/** Tests are offered before anything may be awaited, so another process asks. */
function engineAnswers(): boolean {
  const [, socketPath] = /^unix:\/\/(.*)$/.exec(process.env.DOCKER_HOST ?? "") ?? [];
  if (socketPath === undefined) return false;
  const asked = JSON.stringify({ socketPath, path: "/_ping" });
  const program = `require("http").get(${asked}, ({ statusCode }) => process.exit(statusCode === 200 ? 0 : 1))`;
  return spawnSync(process.execPath, ["-e", program], { stdio: "ignore" }).status === 0;
}

/** Where an offer's effects go: the real ones, but in the test of this file. */
export type Effects = {
  readonly noSkip: boolean;
  readonly registerTest: (title: string, body: () => void) => void;
  readonly print: (line: string) => void;
};

const EFFECTS: Effects = {
  noSkip: process.env.CI_NO_SKIP === "1",
  registerTest: vitest.it,
  print: (line) => process.stderr.write(`${line}\n`),
};

/** What to offer when `missing` is missing: nothing missing, vitest's own. */
export function offer(missing: readonly string[], effects: Effects = EFFECTS): Offered {
  if (missing.length === 0) return { describe: vitest.describe, it: vitest.it };
  const reason = `needs ${missing.join(", ")}`;
  if (effects.noSkip)
    effects.registerTest(reason, () => vitest.expect.fail(`${reason}, and CI_NO_SKIP=1 allows no skip`));
  else effects.print(`skipped: ${reason}`);
  return SKIPPING;
}

// The skipping forms lack only `skip` and `only` of their own; no suite that is skipped needs them.
const SKIPPING = { describe: vitest.describe.skip, it: vitest.it.skip } as unknown as Offered;
