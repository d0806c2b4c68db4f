/**
 * One witness followed for its own sake: what comes before it and the packet itself, each as it is sent, with everything that
 * becomes of it where nobody stands in for anybody. For those who send the same packets elsewhere.
 */
import { type Address, addressKey } from "../address/index.ts";
import type { FateClass, Network, Witness } from "../network/index.ts";
import { createSimulation } from "../simulate/index.ts";
import type { IpPacket } from "../wire/index.ts";
import { holdersOf } from "./holders.ts";
import { formsOf } from "./quoted.ts";
import { sendStage, type WitnessStage } from "./witness-stage.ts";
import type { World } from "./worlds.ts";

/** Sends a class's witness; `destination` takes the place of its own, in the last packet. */
export function runWitness(
  network: Network,
  world: World,
  { before, witness, sentAt, picks, waits = 0 }: FateClass,
  destination?: Address,
): readonly WitnessStage[] {
  const simulation = createSimulation(network, world.settled, { picks: [...world.picks, ...picks] });
  const { stacks } = holdersOf(world.settled);
  const forms: IpPacket[] = [];
  const last = { sentAt, waits, witness: destination === undefined ? witness : withDestination(witness, destination) };
  return [...before, last].map((each) => {
    simulation.wait(each.waits ?? 0);
    const stage = sendStage(each, { simulation, stacks, forms });
    forms.push(...formsOf(stage.packet, stage.injection));
    return stage;
  });
}

function withDestination(witness: Witness, destination: Address): Witness {
  const others = witness.numbers.filter(([field]) => field !== "destination");
  return { ...witness, numbers: [...others, ["destination", addressKey(destination)]] };
}
