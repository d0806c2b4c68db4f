/**
 * Codes of storylines: stories that cannot have happened so.
 */

/** Codes raised where a storyline is read and laid out in time. */
export const STORY_CODES = {
  "bad-path": {
    explanation:
      "An edit names its place by a path: a device, a network, a set or `port-roles`, then keys joined by `.`, and items of lists in brackets by their name or word. This one is not such a path, or leads through a value that has no parts. In a line with braces a path with brackets needs quotes.",
    example: "story:\n  - change: [{ remove: 'edge.filter.through.rules[visitors go out' }]",
  },
  "no-plan": {
    explanation:
      "The storyline names a plan that cannot be read: neither a folder with files of a plan nor a revision of git. A folder is written `./...` or `../...`, from the storyline's own file; every other word is taken for a revision.",
    example: "site: HEAD~300\nstory: []",
  },
  "story-too-long": {
    explanation:
      "A story has at most 500 steps: the site is worked out anew after each, and every assertion is asked again that it may touch. Leave out what nothing comes of, or tell it in several storylines, each of which begins with the `site` that the one before ends with.",
    example: "story:\n  - { unplug: core:p3 }\n  - { plug: [core:p3, archive:nic] }\n  # and 499 more",
  },
  "time-backwards": {
    explanation:
      "The steps of a story stand in the order of time, and this one is said to be earlier than the step before it ends. Waits and walks take their time, too. Move the step, or correct its `at`.",
    example: "story:\n  - { at: 10m, unplug: core:p2 }\n  - { at: 5m, plug: [core:p2, edge:lan2] }",
  },
  "impossible-event": {
    explanation:
      "This cannot happen at that moment of the story: a cable is pulled where none is, plugged into a port that is taken, something is switched off that is off, a device is told something while it is off, or an item is added that is there. A step before it is missing, or names another port or device.",
    example: "story:\n  - { unplug: core:p3 }\n  - { unplug: core:p3 }",
  },
  "not-demanded": {
    explanation:
      "`no-longer` ends what `meanwhile` began, and no `meanwhile` before it demands this. Name what it demands, letter by letter, or take the step out.",
    example: "story:\n  - { no-longer: the laptop administers the switch }",
  },
} as const;
