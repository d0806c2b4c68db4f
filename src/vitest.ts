/**
 * Matchers for vitest: `import "dryrack/vitest"` in a test, or name it among `setupFiles`. Each fails with the packet, its way
 * and the deciding line of the plan, as `dryrack check` prints them.
 *
 * ```ts
 * expect(site.from("office").to("camera", "tcp/554")).toConnect();
 * expect(site.from("cameras").to("internet")).toBlock();
 * expect(site.client("camera")).toLease({ address: "10.90.20.100-199" });
 * expect(site).toHold();
 * ```
 */
import { expect } from "vitest";
import {
  type Answer,
  type BlockedDemands,
  type Client,
  type ExchangeDemands,
  type LeaseDemands,
  type Question,
  type Site,
  toBlock,
  toConnect,
  toHold,
  toLease,
} from "./library/index.ts";

/** What may be expected of questions, clients, answers and sites; of anything else none of these is offered. */
export type PlanMatchers<Asked> = {
  /** A whole exchange works, there and back, from every source to every target. There is no `.not`: see `toBlock`. */
  readonly toConnect: Asked extends Question ? (demands?: ExchangeDemands) => void : never;
  /** No packet at all gets there, proved over all packets. With `.not`: at least one packet gets through. */
  readonly toBlock: Asked extends Question ? (demands?: BlockedDemands) => void : never;
  /** The client is given such a lease. There is no `.not`: of no lease at all say `address: "none"`. */
  readonly toLease: Asked extends Client ? (demands?: LeaseDemands) => void : never;
  /** The assertion holds, or all those in the documents of a site. There is no `.not`: see `Answer.status`. */
  readonly toHold: Asked extends Answer | Site ? () => void : never;
};

declare module "vitest" {
  interface Matchers<T> extends PlanMatchers<T> {}
}

expect.extend({ toBlock, toConnect, toHold, toLease });
