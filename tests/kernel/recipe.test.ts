/** The two ways to build the container's image take the same packages and the same files, and start the same program. */
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

const read = (name: string): string => readFileSync(`src/kernel/image/${name}`, "utf8");
const packages = read("container.txt")
  .split("\n")
  .filter((line) => line !== "" && !line.startsWith("#"));

describe.each(["Dockerfile", "container.sh"])("the container's recipe %s", (name) => {
  const text = read(name);

  it("names none of the packages itself, but reads the one list", () => {
    expect(packages).toEqual(["busybox-static", "qemu-system-x86"]);
    expect(text).toMatch(/grep -v '\^#' \S*container\.txt"?/);
    for (const each of packages) expect(text).not.toContain(each);
  });

  it("takes the machine from machine.sh, and starts inside.sh", () => {
    expect(text).toMatch(/sh "?\S*\/machine\.sh/);
    for (const file of ["kernel", "initramfs"]) expect(text).toContain(`/${file}`);
    const [entry] = /ENTRYPOINT \[[^\]]*\]/.exec(text) ?? [];
    expect(entry).toBe('ENTRYPOINT ["/bin/busybox", "sh", "/machine/inside.sh"]');
    expect(readFileSync("src/kernel/container-run.ts", "utf8")).toContain(`'${entry}'`);
  });
});
