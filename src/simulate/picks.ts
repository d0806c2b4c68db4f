/**
 * What the site leaves open, decided as the question says: a pick where one is given, else the usual option. Options
 * taken are written down in the order met, so that a question can be asked again for the others.
 */
import type { Choice, Id, Pick } from "../network/index.ts";

/** Decides choices and remembers what it decided. */
export class PickBook {
  readonly #given: ReadonlyMap<Id, Id>;
  readonly #choices: readonly Choice[];
  readonly #used = new Map<Id, Id>();

  constructor(given: readonly Pick[], choices: readonly Choice[]) {
    this.#given = new Map(given.map(({ choice, option }) => [choice, option]));
    this.#choices = choices;
  }

  /** Options taken so far. */
  get used(): readonly Pick[] {
    return [...this.#used].map(([choice, option]) => ({ choice, option }));
  }

  /** Forgets what was taken, not what is given. */
  begin(): void {
    this.#used.clear();
  }

  /**
   * The option taken of the choice of this kind about a thing (a bond, a route, an interface): the pick if it is one of
   * `options`, else `usual`. A choice's id lies right below the id of the thing.
   */
  take(kind: Choice["kind"], about: Id, options: readonly Id[], usual: Id): Id {
    const id = this.#idOf(kind, about);
    const given = this.#given.get(id);
    const option = given !== undefined && options.includes(given) ? given : usual;
    if (!this.#used.has(id)) this.#used.set(id, option);
    return option;
  }

  /** The pick given for a choice, if any. */
  given(kind: Choice["kind"], about: Id): Id | undefined {
    return this.#given.get(this.#idOf(kind, about));
  }

  #idOf(kind: Choice["kind"], about: Id): Id {
    const choice = this.#choices.find((each) => each.kind === kind && isAbout(each.id, about));
    return choice?.id ?? about;
  }
}

function isAbout(choice: Id, about: Id): boolean {
  return choice.startsWith(about) && choice.lastIndexOf("/") === about.length;
}
