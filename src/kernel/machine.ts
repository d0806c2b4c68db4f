/**
 * A machine of its own: Debian's kernel under QEMU's software emulation, which needs no privilege, with the same helper
 * inside as on the host. Its clock is virtual: waiting costs nothing, so ageing, spanning tree and time-outs are quick.
 * A snapshot taken after the first start makes later ones quicker. The machine ends with the process that started it.
 */
import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { closeSync, existsSync, openSync, renameSync, rmSync } from "node:fs";
import { join } from "node:path";
import type { Duplex, Readable, Writable } from "node:stream";
import { type Carrier, dyingWithUs, endOf, helperFolder, systemEnvironment } from "./carrier.ts";
import { guarded } from "./guard.ts";
import { keyOf, type MachineImage, machineImage, sweepCache, textsIn } from "./machine-image.ts";
import { saveThrough } from "./machine-save.ts";
import { sendPrograms } from "./machine-talk.ts";

const QEMU = "qemu-system-x86_64";

/** The machine, but for its kernel and what its channels are joined to. A snapshot fits the same machine only. */
export const HARDWARE: readonly string[] = [
  ...["-M", "q35", "-accel", "tcg,thread=single,tb-size=128", "-cpu", "qemu64,+rdrand", "-smp", "1", "-m", "192"],
  ...["-nodefaults", "-no-user-config", "-no-reboot", "-display", "none", "-nic", "none"],
  // A plain processor and programs that lie always in the same place halve the work: less is translated, and it is kept.
  // One instruction takes 2 ns, and while nothing runs the clock jumps to the next timer.
  ...["-icount", "shift=1,sleep=off"],
  ...["-serial", "chardev:console", "-device", "virtio-serial-pci", "-device", "virtconsole,chardev=job"],
  ...["-chardev", "stdio,id=job,signal=off"],
  ...["-append", "console=ttyS0 quiet panic=-1 mitigations=off norandmaps random.trust_cpu=on"],
];

/** File descriptors that the machine is given beside its standard ones. */
const CONSOLE_FD = 3;
const MONITOR_FD = 4;
const SNAPSHOT_FD = 4;

/** What the emulator says of its version; undefined: it is not installed. */
export function machineVersion(): string | undefined {
  const { status, stdout } = spawnSync(QEMU, ["--version"], { encoding: "utf8", env: systemEnvironment() });
  return status === 0 ? stdout : undefined;
}

/** Starts a machine: from a snapshot, which is taken first where there is none that fits. */
export async function startMachine(): Promise<Carrier> {
  const version = machineVersion();
  if (version === undefined) throw new Error(`${QEMU} is not installed: apt-get install qemu-system-x86`);
  const image = await machineImage();
  const programs = textsIn(helperFolder());
  const snapshot = join(image.folder, `snapshot-${keyOf([version, ...HARDWARE, ...[...programs].flat()])}`);
  if (!existsSync(snapshot)) await takeSnapshot(image, programs, snapshot);
  const file = openSync(snapshot, "r");
  sweepCache(image.folder, snapshot);
  try {
    return carrierOf(launch(image, file, ["-incoming", `fd:${SNAPSHOT_FD}`]));
  } finally {
    closeSync(file);
  }
}

/** Starts a machine afresh, has it load the helper, and saves it; it is moved to its place when it is whole. */
async function takeSnapshot(image: MachineImage, programs: ReadonlyMap<string, string>, place: string): Promise<void> {
  const child = launch(image, "pipe", [
    ...["-chardev", `socket,id=monitor,fd=${MONITOR_FD}`, "-mon", "chardev=monitor,mode=control"],
  ]);
  const part = `${place}.part-${process.pid}`;
  const keep = guarded({ path: part });
  try {
    const carrier = carrierOf(child);
    await sendPrograms(carrier, programs);
    // `launch` made it a pipe, which Node opens both ways.
    await saveThrough(child.stdio[MONITOR_FD] as Duplex, part);
    renameSync(part, place);
  } finally {
    child.kill("SIGKILL");
    rmSync(part, { force: true });
    keep();
  }
}

/** The kernel ends a machine whose parent has ended, however that came about. */
function launch({ kernel, initramfs }: MachineImage, fourth: number | "pipe", more: readonly string[]): ChildProcess {
  const console = ["-chardev", `socket,id=console,fd=${CONSOLE_FD}`];
  const machine = [QEMU, ...HARDWARE, "-kernel", kernel, "-initrd", initramfs, ...console, ...more];
  return spawn("setpriv", dyingWithUs(machine), {
    stdio: ["pipe", "pipe", "pipe", "pipe", fourth],
    env: systemEnvironment(),
  });
}

function carrierOf(child: ChildProcess): Carrier {
  return {
    // `launch` made pipes of all of these.
    input: child.stdin as Writable,
    output: child.stdout as Readable,
    said: [child.stderr as Readable, child.stdio[CONSOLE_FD] as Duplex],
    pid: child.pid,
    ended: endOf(child),
    stop: () => child.kill("SIGKILL"),
  };
}
