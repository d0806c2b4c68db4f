/** A host beside another one on a switch, which lets in only what comes from certain stations. */
const TOPOLOGY = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  sw:   { is: switch, ports: { p1..2: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, sw:p1], [sw:p2, box:nic]]
`;

/** Topology and intent; `stations` are hardware addresses in quotes, `02:00:5e:00:00:01` is its own; `asks`: that of the other. */
export function letsIn(stations: string, asks = "02:00:5e:00:00:09"): readonly [topology: string, intent: string] {
  return [
    TOPOLOGY,
    `dryrack: intent/1
devices:
  asks: { legs: { nic: { ipv4: 10.0.9.9/24, mac: "${asks}" } } }
  box:
    legs: { nic: { ipv4: 10.0.9.8/24, mac: "02:00:5e:00:00:01" } }
    filter: { to: { otherwise: drop, rules: [ { name: known, source-mac: [${stations}], action: accept } ] } }
`,
  ];
}
