/**
 * The resolved site on a real kernel: a namespace a device, virtual cables, the kernel's own routes, filters and
 * translation, and probes that tell what became of them in the words of the simulator.
 *
 * ```ts
 * const plan = planKernel(site);
 * const rack = new Rack();
 * const built = await buildKernelSite(rack, plan);
 * await built.listen([443]);
 * const outcome = await built.probe({ device: "laptop", destination, protocol: 6, port: 443 });
 * await rack.stop();
 * ```
 *
 * Guarantees: reads the site alone, never the description; acts only inside namespaces that it made, all of which hang
 * off one helper process; nothing outlives that process.
 */
export { type AgreeRequest, type AgreeResult, agreeOnSite } from "./agree.ts";
export { type Bench, CONTAINER_BENCH, HOST_BENCH, MACHINE_BENCH } from "./bench.ts";
export { buildKernelSite, type KernelOutcome, KernelSite } from "./kernel-site.ts";
export { startMachine } from "./machine.ts";
export type { KernelPlan } from "./plan.ts";
export { type KernelKind, planKernel } from "./plan-site.ts";
export type { KernelExchange, KernelPacket, KernelQuestion } from "./question.ts";
export { Rack } from "./rack.ts";
export { showKernel } from "./show.ts";
