/**
 * The machine in a container, through `testcontainers`, which this file alone imports: load it only where a container is asked for.
 * The container has no network and no privilege; its input is the machine's job channel, and it ends and is removed when
 * that closes, so also when this process is killed: the engine closes the input of a container whose one client has gone.
 */
import { createReadStream, linkSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { type Duplex, PassThrough } from "node:stream";
import { type ContainerRuntimeClient, GenericContainer, getContainerRuntimeClient } from "testcontainers";
import { type Carrier, helperFolder } from "./carrier.ts";
import { type EnginePlace, guarded } from "./guard.ts";
import { HARDWARE } from "./machine.ts";
import { cacheFolder, inPart, keyOf, machineImage, RECIPE, runRecipe, textsIn } from "./machine-image.ts";
import { sendPrograms } from "./machine-talk.ts";

/** What containers and images of ours are labelled with. */
export const LABEL = "dryrack.machine";

/** Nobody, by the number that every system agrees on. */
const NOBODY = "65534:65534";

/** How the image starts; `Dockerfile` says the same. */
const ENTRYPOINT = 'ENTRYPOINT ["/bin/busybox", "sh", "/machine/inside.sh"]';

/** The engine that answers. Rejects where none does. */
export function engine(): Promise<ContainerRuntimeClient> {
  // Nothing is reached over a network, and containers remove themselves: no helper container is needed for either.
  process.env.TESTCONTAINERS_HOST_OVERRIDE ??= "localhost";
  process.env.TESTCONTAINERS_RYUK_DISABLED ??= "true";
  return getContainerRuntimeClient();
}

/** Name of the image; it changes with the recipe. */
export function imageName(): string {
  return `dryrack-machine:${keyOf([...textsIn(RECIPE)].flat())}`;
}

/** Whether the engine has the image now; the client's own way to ask remembers what was so once. */
export async function hasImage(client: ContainerRuntimeClient): Promise<boolean> {
  const found = await client.container.dockerode.listImages({ filters: { reference: [imageName()] } });
  return found.length > 0;
}

/** Builds the image where the engine lacks it: on Debian from packages, elsewhere from the `Dockerfile`, which needs a registry. */
export async function prepareImage(client: ContainerRuntimeClient): Promise<void> {
  if (await hasImage(client)) return;
  const build = isDebian() ? buildFromPackages : buildFromDockerfile;
  await inPart(cacheFolder(), (part) => build(client, part));
}

function isDebian(): boolean {
  try {
    return /^ID=debian$/m.test(readFileSync("/etc/os-release", "utf8"));
  } catch {
    return false;
  }
}

async function buildFromPackages(client: ContainerRuntimeClient, part: string): Promise<void> {
  const { kernel, initramfs } = await machineImage();
  linkSync(kernel, join(part, "kernel"));
  linkSync(initramfs, join(part, "initramfs"));
  await runRecipe("container.sh", part);
  const [repo = "", tag = ""] = imageName().split(":");
  const image = createReadStream(join(part, "root.tar"));
  await taken(client, await client.container.dockerode.importImage(image, { repo, tag, changes: ENTRYPOINT }));
}

/** Asked of the engine itself: the client's own builder does not say why a build failed. */
async function buildFromDockerfile(client: ContainerRuntimeClient): Promise<void> {
  const context = { context: RECIPE, src: [...textsIn(RECIPE).keys()] };
  const options = { t: imageName(), forcerm: true };
  await taken(client, await client.container.dockerode.buildImage(context, options));
}

/** Reads to its end what the engine says while it makes the image; throws where it has none then. */
async function taken(client: ContainerRuntimeClient, told: NodeJS.ReadableStream): Promise<void> {
  let said = "";
  for await (const chunk of told) said = `${said}${chunk}`.slice(-500);
  if (!(await hasImage(client))) throw new Error(`the engine did not make the image: ${said}`);
}

/** So long a container of ours may take to start, many times over. */
const STARTED_SECONDS = 60;

/** Removes containers of ours that were made and never started, since a power cut took whoever was about to. */
export async function sweepContainers(
  client: ContainerRuntimeClient,
  seconds: number = STARTED_SECONDS,
): Promise<void> {
  const { dockerode } = client.container;
  const made = await dockerode.listContainers({ all: true, filters: { label: [LABEL], status: ["created"] } });
  const old = made.filter(({ Created }) => Date.now() / 1000 - Created >= seconds);
  // Somebody else may remove it at the same time.
  await Promise.all(
    old.map(({ Id }) =>
      dockerode
        .getContainer(Id)
        .remove()
        .catch(() => undefined),
    ),
  );
}

/** Starts a machine in a container, with the helper inside. */
export async function startContainer(): Promise<Carrier> {
  const client = await engine();
  await sweepContainers(client);
  await prepareImage(client);
  const name = `dryrack-${process.pid}-${process.hrtime.bigint().toString(36)}`;
  const keep = guarded({ container: name, engine: placeOf(client) });
  const held = new HeldContainer(client, name);
  await held.start();
  const carrier = held.carrier(keep);
  await sendPrograms(carrier, textsIn(helperFolder()));
  return carrier;
}

/** Where the engine is, for a process that has no client. */
function placeOf(client: ContainerRuntimeClient): EnginePlace {
  // Untyped there; these are what its options were resolved to.
  const { socketPath, protocol, host, port, ca, cert, key } = client.container.dockerode.modem as EnginePlace;
  return Object.fromEntries(
    Object.entries({ socketPath, protocol, host, port, ca, cert, key }).filter(([, value]) => value !== undefined),
  );
}

/** A container whose input and output are attached before it starts, so that there is no moment without its one client. */
class HeldContainer extends GenericContainer {
  readonly #client: ContainerRuntimeClient;
  readonly #name: string;
  readonly #output = new PassThrough();
  readonly #said = new PassThrough();
  #stream: Duplex | undefined;

  constructor(client: ContainerRuntimeClient, name: string) {
    super(imageName());
    this.#client = client;
    this.#name = name;
    Object.assign(this.createOpts, { AttachStdin: true, OpenStdin: true, StdinOnce: true });
    Object.assign(this.hostConfig, { AutoRemove: true, ReadonlyRootfs: true });
    this.withName(name)
      .withLabels({ [LABEL]: "yes" })
      .withCommand([...HARDWARE])
      .withNetworkMode("none")
      .withUser(NOBODY)
      .withDroppedCapabilities("ALL")
      .withSecurityOpt("no-new-privileges")
      .withTmpFs({ "/tmp": "rw" })
      .withAutoCleanup(false);
  }

  protected override async containerCreated(id: string): Promise<void> {
    const container = this.#client.container.getById(id);
    const options = { stream: true, stdin: true, stdout: true, stderr: true, hijack: true };
    // A connection that was taken over, which is a socket.
    this.#stream = (await container.attach(options)) as Duplex;
    this.#client.container.dockerode.modem.demuxStream(this.#stream, this.#output, this.#said);
  }

  /** What carries sites: `gone` is told when the container is removed. */
  carrier(gone: () => void): Carrier {
    const stream = this.#stream;
    if (stream === undefined) throw new Error("the container has not started");
    return {
      input: stream,
      output: this.#output,
      said: [this.#said],
      pid: undefined,
      ended: this.#removed(stream).finally(gone),
      stop: () => undefined,
    };
  }

  async #removed(stream: Duplex): Promise<string> {
    await new Promise<void>((resolve) => {
      stream
        .once("end", resolve)
        .once("close", resolve)
        .on("error", () => resolve());
    });
    const container = this.#client.container.getById(this.#name);
    // What is removed already is not found any more.
    const status: unknown = await container.wait({ condition: "removed" }).then(
      ({ StatusCode }) => StatusCode,
      () => 0,
    );
    return `ended with ${status}`;
  }
}
