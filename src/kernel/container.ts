/**
 * A machine in a container: whether it can be had here, and its start. `testcontainers` is the user's to install, so nothing of
 * it is loaded before a container is asked for.
 */
import type { Carrier } from "./carrier.ts";
import { RECIPE } from "./machine-image.ts";

/** What is asked of the file that needs `testcontainers`. */
type ContainerRun = typeof import("./container-run.ts");

/** That file; undefined: `testcontainers` is not installed. */
async function load(): Promise<ContainerRun | undefined> {
  try {
    return await import("./container-run.ts");
  } catch (error) {
    if (error instanceof Error && "code" in error && error.code === "ERR_MODULE_NOT_FOUND") return undefined;
    throw error;
  }
}

/** Why no container can be had, one sentence each with what to do; empty: the engine answers and has the image. */
export async function containerTroubles(): Promise<readonly string[]> {
  const run = await load();
  if (run === undefined)
    return ["the package `testcontainers` is not installed: npm install testcontainers@11, or use `--machine`"];
  const client = await run.engine().catch(() => undefined);
  if (client === undefined)
    return [
      "no container engine answers: start one, or say in DOCKER_HOST where it listens (unix:///run/docker.sock), or use `--machine`",
    ];
  return run.prepareImage(client).then(
    () => [],
    (error: unknown) => [
      [
        `the container's image could not be built: ${error instanceof Error ? error.message : String(error)}`,
        `   without a registry, on Debian: sh ${RECIPE}container.sh FOLDER ${run.imageName()}`,
      ].join("\n"),
    ],
  );
}

/** Starts a machine in a container; ask for `containerTroubles` first. */
export async function startContainer(): Promise<Carrier> {
  const run = await load();
  if (run === undefined) throw new Error("`testcontainers` is not installed");
  return run.startContainer();
}
