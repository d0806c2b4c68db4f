/** Addresses that source translation chose from several, told as the pool: which one was drawn is nobody's promise. */
import { addressKey, formatAddress, keyAddress, parseAddress, type Ranges } from "../../src/address/index.ts";
import type { Network } from "../../src/network/index.ts";

/** An address in a line of text, of either version. */
const ADDRESS = /\d+\.\d+\.\d+\.\d+|[0-9a-f]*:[0-9a-f:]*:[0-9a-f]*/g;

/** Address keys that source translation may choose from, where there are several. */
export function poolsOf({ tables }: Network): Ranges {
  return tables.flatMap((table) => {
    if (table.kind !== "translate") return [];
    return table.rules.flatMap(({ action }) =>
      action.do === "rewrite" && typeof action.to !== "string" && !action.oneToOne
        ? action.to.filter(([low, high]) => low < high)
        : [],
    );
  });
}

/** A line of text with the pool in place of each address of one. */
export function withPools(text: string, pools: Ranges): string {
  return text.replaceAll(ADDRESS, (each) => pooled(each, pools));
}

/** An address by its pool, if it is of one; of IPv6 a port may follow its last colon. */
function pooled(text: string, pools: Ranges): string {
  const whole = poolOf(text, pools);
  const last = text.lastIndexOf(":");
  if (whole !== undefined || last < 0) return whole ?? text;
  return `${poolOf(text.slice(0, last), pools) ?? text.slice(0, last)}${text.slice(last)}`;
}

function poolOf(text: string, pools: Ranges): string | undefined {
  const found = parseAddress(text);
  if (found === undefined) return undefined;
  const key = addressKey(found);
  const pool = pools.find(([low, high]) => low <= key && key <= high);
  return pool?.map((end) => formatAddress(keyAddress(end))).join("-");
}
