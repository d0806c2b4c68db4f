/**
 * What to do about a prefix that was not delegated since a rule stops what is said about it: DHCPv6 needs rules of its own (RFC 8415
 * section 7.2), as its answers belong to no known connection.
 */
import { lastName, type Settled } from "../network/index.ts";
import type { BindingFailure } from "../simulate/index.ts";

/** Help for a failure that comes of such a prefix; empty: it does not. */
export function prefixHelp(
  failure: BindingFailure | undefined,
  { undelegated = [] }: Settled,
): { readonly help?: string } {
  const lack = failure && undelegated.find(({ text }) => text === failure.text);
  if (lack?.what === undefined) return {};
  const by = lastName(lack.interface);
  const help =
    lack.what === "answer"
      ? `accept it in a rule of \`to\`: \`in: ${by}, source: fe80::/10, dest: fe80::/10, service: udp/546\`, since it belongs to no known connection`
      : `accept it in a rule of \`from\`: \`out: ${by}, dest: ff02::1:2, service: udp/547\``;
  return { help };
}
