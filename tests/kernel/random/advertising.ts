/** Router advertisements of a drafted site: who advertises what, who waits for it, and what is asked about that. */
import type { Dice } from "../dice.ts";
import type { Question } from "../question.ts";
import type { Box, Draft, Leg } from "./draft.ts";
import { isFormed } from "./draft.ts";

/** Most routers of a segment that is advertised advertise it. */
export function advertiseLines({ dice }: Draft, { legs }: Box): readonly string[] {
  const entries = legs
    .filter(({ segment }) => segment.advertised && dice.chance(0.9))
    .map((leg) => `${leg.name}: { ${settingsOf(dice, leg).join(", ")} }`);
  return entries.length === 0 ? [] : [`advertise: { ${entries.join(", ")} }`];
}

const PREFERENCES = ["medium", "high", "low"] as const;

/** No two routers of a segment have the same preference: which of two alike is used is luck (kernel fact 51). */
function settingsOf(dice: Dice, { segment: { id, members }, host }: Leg): readonly string[] {
  const place = members.findIndex((member) => member.host === host);
  const prefixes = dice.pick([`"fd40:${id}::/64", "fd41:${id}::/64"`, `"fd41:${id}::/64"`, `"fd40:${id}::/56"`]);
  return [
    ...(dice.chance(0.1) ? ["router-lifetime: 0s"] : []),
    ...(dice.chance(0.1) ? [`prefixes: [${prefixes}]`] : [`prefixes: ["fd40:${id}::/64"]`]),
    ...(dice.chance(0.05) ? ["autonomous: no"] : []),
    ...(dice.chance(0.08) ? ["on-link: no"] : []),
    `preference: ${PREFERENCES[place % PREFERENCES.length]}`,
  ];
}

/** What every leg that waits made of it. */
export function advertisedQuestions({ boxes }: Draft): readonly Question[] {
  return boxes.flatMap(({ name, legs }) =>
    legs.filter(({ host }) => isFormed(host)).map((leg) => ({ advertised: `${name}/${leg.name}` })),
  );
}
