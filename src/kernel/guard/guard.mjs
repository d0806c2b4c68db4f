/**
 * Clears up after a command that is killed, and ends. Input, one JSON line each: `{"id": 1, "group": 4711}`, `{"id": 2, "path": "/a"}` or
 * `{"id": 3, "container": "name", "engine": {...}}` is to be undone when the input closes; `{"id": 1}` alone is not any more.
 * What was under way elsewhere when the command died may appear a moment later, so paths and containers are looked for again.
 */
import { rmSync } from "node:fs";
import http from "node:http";
import https from "node:https";
import { createInterface } from "node:readline";
import { setTimeout as pause } from "node:timers/promises";

const TIMES = 20;
const PAUSE_MS = 150;

const pending = new Map();

for await (const line of createInterface({ input: process.stdin })) {
  const { id, ...what } = JSON.parse(line);
  if (Object.keys(what).length === 0) pending.delete(id);
  else pending.set(id, what);
}
for (let time = 0; time < TIMES && pending.size > 0; time++) {
  for (const [id, what] of pending) await undo(id, what);
  await pause(PAUSE_MS);
}

async function undo(id, { group, path, container, engine }) {
  if (group !== undefined) endGroup(id, group);
  else if (path !== undefined) removePath(path);
  else await removeContainer(container, engine);
}

/** Once: the number may be somebody else's later. */
function endGroup(id, group) {
  pending.delete(id);
  try {
    process.kill(-group, "SIGKILL");
  } catch {
    // it has ended by itself
  }
}

function removePath(path) {
  try {
    rmSync(path, { recursive: true, force: true });
  } catch {
    // something is still written there: it goes the next time
  }
}

function removeContainer(name, { protocol, ...where }) {
  return new Promise((resolve) => {
    const path = `/containers/${name}?force=true&v=true`;
    const asked = (protocol === "https" ? https : http).request({ ...where, path, method: "DELETE" }, (answer) =>
      answer.resume().on("close", resolve),
    );
    asked.on("error", resolve).end();
  });
}
