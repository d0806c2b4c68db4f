/**
 * Debian's packet dissector as a judge of captures: what it says about each frame, field by field, with every checksum
 * verified. Ask under `needs("tshark")`.
 *
 *     const [first] = dissect(emitCapture(...), ["ip.src", "vlan.id"]);
 *     expect(first).toEqual({ "ip.src": "10.71.40.7", "vlan.id": "40" });
 */
import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { toolPath } from "./needs.ts";

const CHECKED = ["ip", "udp", "tcp"].flatMap((protocol) => ["-o", `${protocol}.check_checksum:TRUE`]);
const TABLE = ["-T", "fields", "-E", "separator=/t", "-E", "aggregator=,", "-E", "occurrence=a"];
const WARNING = 0x600000; // severities below it, chats and notes, tell what a conversation does, not what is wrong
const QUOTED = "2"; // status of a checksum that is left alone: that of a packet quoted in an error
const GOOD = "1";
const STATUS = ["ip", "udp", "tcp", "icmp", "icmpv6"].map((protocol) => `${protocol}.checksum.status`);

/** For each frame of a capture file the values of `fields`; several of one field are joined by `,`, an absent one is "". */
export function dissect(capture: Uint8Array, fields: readonly string[]): readonly Readonly<Record<string, string>>[] {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-capture-"));
  const file = join(folder, "capture.pcapng");
  writeFileSync(file, capture);
  const args = ["-r", file, "-n", ...CHECKED, ...TABLE, ...fields.flatMap((field) => ["-e", field])];
  const { stdout, stderr, status } = spawnSync(toolPath("tshark"), args, { encoding: "utf8" });
  rmSync(folder, { recursive: true });
  if (status !== 0) throw new Error(stderr);
  const lines = stdout.split("\n").slice(0, -1);
  return lines.map((line) => {
    const values = line.split("\t");
    return Object.fromEntries(fields.map((field, index) => [field, values[index] ?? ""]));
  });
}

/** What the dissector finds wrong with a capture: malformed frames, warnings, wrong checksums; one line each, frames counted from 1. */
export function troubles(capture: Uint8Array): readonly string[] {
  const fields = ["_ws.malformed", "_ws.expert.severity", "_ws.expert.message", ...STATUS];
  return dissect(capture, fields).flatMap((found, index) => {
    const severe = several(found["_ws.expert.severity"]).some((each) => Number(each) >= WARNING);
    const wrong = STATUS.filter((field) => several(found[field]).some((each) => each !== GOOD && each !== QUOTED));
    const expert = severe ? [found["_ws.expert.message"] ?? ""] : [];
    return [...several(found["_ws.malformed"]), ...expert, ...wrong].map((each) => `frame ${index + 1}: ${each}`);
  });
}

function several(value: string | undefined): readonly string[] {
  return (value ?? "").split(",").filter((each) => each !== "");
}
