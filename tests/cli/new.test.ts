/** `new FOLDER`, run from the sources on folders of its own. */
import { execFileSync } from "node:child_process";
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test, vi } from "vitest";
import { runCheck } from "../../src/cli/check.ts";
import { runNew } from "../../src/cli/new.ts";

const WRITTEN = ["assertions/site/assertions.yaml", "topologies/site/intent.yaml", "topologies/site/topology.yaml"];
const SHIPPED = WRITTEN.map((name) => name.replace("/site/", "/corner-bakery/"));

let folder = "";
let output = "";
let errors = "";

const gather = (add: (text: string) => void) => (text: string | Uint8Array) => {
  add(String(text));
  return true;
};

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "dryrack-new-"));
  output = "";
  errors = "";
  vi.spyOn(process.stdout, "write").mockImplementation(
    gather((text) => {
      output += text;
    }),
  );
  vi.spyOn(process.stderr, "write").mockImplementation(
    gather((text) => {
      errors += text;
    }),
  );
});

afterEach(() => {
  vi.restoreAllMocks();
  rmSync(folder, { recursive: true });
});

/** Paths of all files in the folder, sorted. */
const filesThere = (): string[] =>
  readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => !entry.isDirectory())
    .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
    .sort();

describe("new", () => {
  test("writes the second site, word for word", () => {
    expect(runNew(folder)).toBe(0);
    expect(filesThere()).toEqual(WRITTEN);
    const texts = WRITTEN.map((name) => readFileSync(join(folder, name), "utf8"));
    expect(texts).toEqual(SHIPPED.map((name) => readFileSync(name, "utf8")));
  });

  test("says what it wrote and what to type next", () => {
    runNew(folder);
    for (const name of WRITTEN) expect(output).toContain(join(folder, name));
    expect(output).toContain(`type: dryrack check ${folder}\n`);
  });

  test("names the folder as a shell reads it", () => {
    runNew(join(folder, "my shop"));
    expect(output).toContain(`type: dryrack check '${folder}/my shop'\n`);
  });

  test("writes a site that passes the check it tells to type", async () => {
    runNew(folder);
    const options = { format: ["terminal"], output: [], only: [], bail: false, verbose: false } as const;
    expect(await runCheck([folder], options)).toBe(0);
    expect(output).toMatch(/site: \d+ kept\n$/);
  });

  test.each(WRITTEN)("writes nothing when %s is there", (name) => {
    const path = join(folder, name);
    mkdirSync(join(path, ".."), { recursive: true });
    writeFileSync(path, "mine");
    expect(runNew(folder)).toBe(2);
    expect(filesThere()).toEqual([name]);
    expect(readFileSync(path, "utf8")).toBe("mine");
    // Lines end at 80 columns, wherever the folder for the test is.
    expect(errors.replace(/\s+/g, " ")).toContain(`\`${path}\` is there already, and nothing was written`);
  });

  test("writes nothing when a file stands where the last folder should", () => {
    writeFileSync(join(folder, "assertions"), "mine");
    expect(runNew(folder)).toBe(2);
    expect(filesThere()).toEqual(["assertions"]);
    expect(errors).toContain(`\`${join(folder, "assertions")}\` is there already`);
  });

  test("takes a link that leads nowhere for something that is there", () => {
    mkdirSync(join(folder, "topologies/site"), { recursive: true });
    symlinkSync("gone", join(folder, "topologies/site/intent.yaml"));
    expect(runNew(folder)).toBe(2);
    expect(existsSync(join(folder, "topologies/site/topology.yaml"))).toBe(false);
  });

  test("finds its model in the package: npm packs all three files", () => {
    const told = execFileSync("npm", ["pack", "--dry-run", "--json", "--ignore-scripts", "--offline"], {
      encoding: "utf8",
      stdio: ["ignore", "pipe", "ignore"],
    });
    const packed = (JSON.parse(told) as { files: { path: string }[] }[])[0]?.files.map(({ path }) => path); // npm's own format
    expect(packed).toEqual(expect.arrayContaining(SHIPPED));
  });
});
