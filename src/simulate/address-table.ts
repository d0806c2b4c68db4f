/**
 * What a bridge learned: hardware addresses by VLAN (-1: the one table of a bridge that ignores tags), each against a
 * port, for the bridge's ageing time. Fact 38: one table a VLAN; a station that speaks elsewhere moves at once.
 */
import type { Hardware } from "../address/index.ts";
import type { BridgePortPlan } from "./plan.ts";

/** Where a station was heard, and until when that counts. */
type Entry = { readonly port: BridgePortPlan; readonly untilUs: number };

/** The address table of one bridge. */
export class AddressTable {
  readonly #byVlan = new Map<number, Map<number, Entry>>();
  readonly #ageingUs: number;
  /** Where stations were heard by others: what is newer there counts. Default: nowhere. */
  beside: AddressTable | undefined;

  constructor(ageingSeconds: number) {
    this.#ageingUs = ageingSeconds * 1_000_000;
  }

  /** Notes that a station was heard on a port. */
  learn(vlan: number, hardware: Hardware, port: BridgePortPlan, nowUs: number): void {
    const known = this.#byVlan.get(vlan);
    const table = known ?? new Map<number, Entry>();
    if (known === undefined) this.#byVlan.set(vlan, table);
    table.set(Number(hardware), { port, untilUs: nowUs + this.#ageingUs });
  }

  /** Notes that a station was heard before, and until when that counts. */
  keep(vlan: number, hardware: number, port: BridgePortPlan, untilUs: number): void {
    const table = this.#byVlan.get(vlan) ?? new Map<number, Entry>();
    this.#byVlan.set(vlan, table.set(hardware, { port, untilUs }));
  }

  /** Everything that was learned, what has run out included. */
  *entries(): Generator<Entry & { readonly vlan: number; readonly hardware: number }> {
    for (const [vlan, table] of this.#byVlan) {
      for (const [hardware, entry] of table) yield { vlan, hardware, ...entry };
    }
  }

  /** Nothing that is known now counts longer than until then. */
  shorten(untilUs: number): void {
    for (const table of this.#byVlan.values()) {
      for (const [hardware, entry] of table) if (entry.untilUs > untilUs) table.set(hardware, { ...entry, untilUs });
    }
  }

  /** All that is known now counts so much longer. */
  shift(byUs: number): void {
    for (const table of this.#byVlan.values()) {
      for (const [hardware, { port, untilUs }] of table) table.set(hardware, { port, untilUs: untilUs + byUs });
    }
  }

  /** The port where a station was last heard; undefined: not in the ageing time. */
  find(vlan: number, hardware: Hardware, nowUs: number): BridgePortPlan | undefined {
    const own = this.#entry(vlan, hardware);
    const other = this.beside === undefined ? undefined : this.beside.#entry(vlan, hardware);
    const entry = other !== undefined && (own === undefined || other.untilUs >= own.untilUs) ? other : own;
    return entry !== undefined && entry.untilUs >= nowUs ? entry.port : undefined;
  }

  #entry(vlan: number, hardware: Hardware): Entry | undefined {
    return this.#byVlan.get(vlan)?.get(Number(hardware));
  }
}
