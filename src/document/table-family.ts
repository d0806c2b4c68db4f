/**
 * What cannot be of the version of IP that an assertion asks for: addresses that were written, and kinds of ICMP (RFC 792, RFC 4443).
 */
import { isEcho, type Service } from "../address/index.ts";
import type { AskedFamily, PolicyAssertion, ReachAssertion } from "./assertions.ts";
import type { Findings } from "./findings.ts";
import type { Located, Target } from "./values.ts";

/** An assertion as far as it is of one version. */
type Asking = Partial<Pick<ReachAssertion, "from" | "to" | "service" | "family">> & {
  readonly expect?: Located<string>;
  readonly policy?: PolicyAssertion["policy"];
};

const OTHER = { ipv4: "IPv6", ipv6: "IPv4" } as const;

/** Tells of each end and service of the version that is not asked for. */
export function reportFamily(found: Asking, findings: Findings): void {
  const { family } = found;
  const version = family?.value;
  if (family === undefined || version === undefined || version === "each") return;
  const tell = ({ span }: Located<unknown>, what: string, help: string): void => {
    findings.report("keys-conflict", span, `${what} has no meaning beside \`family: ${version}\``, {
      also: [{ span: family.span, text: "this is asked" }],
      help,
    });
  };
  const [other, asked] = [OTHER[version], version === "ipv4" ? "IPv4" : "IPv6"];
  for (const end of endsOf(found).filter(({ value }) => isOther(value, version)))
    tell(end, `an ${other} address`, `write its ${asked} address, or let \`family\` be \`${other.toLowerCase()}\``);
  for (const each of servicesOf(found).filter(({ value }) => isOtherKind(value, version, found.expect?.value)))
    tell(each, `a service of ${other}`, `write its like of ${asked}, or leave it out`);
}

function endsOf({ from, to, policy }: Asking): readonly Located<Target>[] {
  return [from, to, policy?.from, policy?.to].flatMap((list) => list?.value ?? []);
}

function servicesOf({ service, policy }: Asking): readonly Located<Service>[] {
  const open = (policy?.open ?? []).flatMap(({ cells }) => cells.flatMap((cell) => cell.open.value));
  const opened = open.flatMap(({ value, span }) => (value.by === "service" ? [{ value: value.service, span }] : []));
  return [...(service?.value ?? []), ...opened];
}

function isOther(target: Target, asked: Exclude<AskedFamily, "each">): boolean {
  return target.by === "addresses" && target.family !== (asked === "ipv4" ? 4 : 6);
}

/** Whether packets of a service are never of the version; an exchange of echoes is asked by the like of it. */
function isOtherKind(service: Service, asked: "ipv4" | "ipv6", expect: string | undefined): boolean {
  if (service.protocol !== (asked === "ipv4" ? 58 : 1)) return false;
  return !isEcho(service) || expect === "blocked" || expect === "only";
}
