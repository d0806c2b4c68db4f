/**
 * `npm run kernel:fuzz -- --kind course --seeds 1-100`: random link layers to which something happens, by the emulated kernel and by
 * the course at stated seconds. What is asked within 0.6 s of a moment at which the model becomes another by itself does not
 * count, with spanning trees within 3.2 s: when a bridge speaks next is the kernel's to say. Nor does it within 2.1 s where LACP is
 * spoken: while members wait for others, who carries alone is a matter of who is heard first (seed 33).
 */
import { planKernel, Rack, startMachine } from "../../src/kernel/index.ts";
import { siteOf } from "../support/site.ts";
import { linesOf } from "./course/lines.ts";
import { randomCourse } from "./course/random-course.ts";
import { answersOver, storms } from "./course/timed.ts";

const CLOCK_SECONDS = 0.6;
const LACP_SECONDS = 2.1;
const TREE_SECONDS = 3.2;

/** Runs all seeds; answers with how many sites differed or broke. */
export async function fuzzCourse(seeds: readonly number[]): Promise<number> {
  const counts = { sites: 0, alike: 0, answered: 0, near: 0, differences: 0, broken: 0, left: 0 };
  let rack = new Rack(await startMachine());
  for (const seed of seeds) {
    const { texts, timeline } = randomCourse(seed);
    const lines = linesOf(timeline);
    const plan = planKernel(siteOf(...texts), "full");
    // What a bond in a tree costs goes by what it carries, which the kernel has to be told.
    const isWeighed = plan.devices.some(({ weighed }) => weighed.length > 0);
    if (plan.unsupported.length > 0 || isWeighed || storms(texts, lines)) {
      counts.left++;
      continue;
    }
    try {
      const speaks = texts[1].includes("mode: lacp") ? LACP_SECONDS : CLOCK_SECONDS;
      const margin = timeline.includes("tree") ? TREE_SECONDS : speaks;
      const answers = await answersOver(rack, texts, lines);
      const fair = answers.filter(({ marginSeconds }) => marginSeconds > margin);
      const wrong = fair.filter(({ kernel, model }) => kernel !== model);
      counts.sites++;
      counts.near += answers.length - fair.length;
      counts.alike += fair.length - wrong.length;
      counts.answered += fair.filter(({ kernel, model }) => kernel === model && kernel.startsWith("answered")).length;
      if (wrong.length > 0) counts.differences++;
      for (const { at, text, kernel, model } of wrong)
        console.log(`DIFFERENCE seed ${seed}: ${at} ${text}\n  kernel: ${kernel}\n  model:  ${model}`);
      if (counts.sites % 10 === 0) console.log(tell(counts));
    } catch (error) {
      counts.broken++;
      console.log(`BROKEN seed ${seed}: ${error instanceof Error ? error.message : error}`);
      await rack.stop();
      rack = new Rack(await startMachine());
    }
  }
  await rack.stop();
  console.log(tell(counts));
  return counts.differences + counts.broken;
}

type Counts = Readonly<Record<"sites" | "alike" | "answered" | "near" | "differences" | "broken" | "left", number>>;

function tell({ sites, alike, answered, near, differences, broken, left }: Counts): string {
  return `${sites} sites, ${alike} answers alike (${answered} of them answered), ${near} too near to a change, ${differences} sites with differences, ${broken} broken, ${left} left out`;
}
