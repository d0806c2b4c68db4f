/**
 * Codes of reading files: what keeps a text from becoming a document of a known kind with known keys.
 */

/** Codes raised while a file is read and its keys are looked at. */
export const READING_CODES = {
  syntax: {
    explanation:
      "The file is not well-formed YAML, so nothing in it can be understood safely. Usually an indent, a bracket or a quote is off a little above the place shown. Put values that hold `: `, ` #` or a leading `*`, `&`, `!` in quotes.",
    example: "devices: { edge: { is: router }",
  },
  "alias-refused": {
    explanation:
      "Anchors (`&name`), aliases (`*name`) and merge keys (`<<`) are not accepted, because a plan that repeats itself through them cannot be pointed at line by line, and a small file can unfold into a huge one. Use a port role, a set or a range where several things share their settings.",
    example: "networks:\n  crew: &base { vlan: 30 }\n  guests: *base",
  },
  "tag-refused": {
    explanation:
      "YAML tags (`!something`) are not accepted: every value is read as text and typed by the key it stands under. Remove the tag. A value that begins with `!` needs quotes.",
    example: "networks:\n  crew: { vlan: !!int 30 }",
  },
  "duplicate-key": {
    explanation:
      "The same key stands twice in one mapping. Many tools silently keep the last one, so that what the file says is not what happens; here it is an error. Merge the two entries or rename one.",
    example: "networks:\n  crew: { vlan: 30 }\n  crew: { vlan: 31 }",
  },
  "file-too-large": {
    explanation:
      "The file is larger than the limit that protects the reader from hostile input. A plan may be spread over any number of files: split it, for instance one file a device.",
    example: "# a file of more than 4 MiB",
  },
  "too-deep": {
    explanation:
      "Mappings and lists are nested deeper than any document of this tool needs. Most often brackets were left open. The limit protects the reader from hostile input.",
    example: "devices: [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]",
  },
  "too-many": {
    explanation:
      "There are more entries than the limit that protects the reader from hostile input allows: values in a file, members of a range, or devices in a site. If the plan is really that large, check it in parts.",
    example: "devices:\n  core: { is: switch, ports: { p1..9999999: 1G } }",
  },
  "unknown-kind": {
    explanation:
      "Every document begins with the key `dryrack`, which names its kind and version, such as `dryrack: topology/1`. This one has no such key, names a kind that does not exist, or has the keys of another kind. The kinds are topology, intent, assertions and storyline.",
    example: "dryrack: topologies/1",
  },
  "misplaced-document": {
    explanation:
      "A folder under `topologies/` holds what is racked and what it is told, one under `assertions/` what must hold. A document of another kind in there would be left out, and nobody would notice. Move it to the other folder, or change its first line if that is what is wrong.",
    example: "# in topologies/station/isolation.yaml\ndryrack: assertions/1",
  },
  "newer-version": {
    explanation:
      "The document is written for a newer dryrack than this one: its version number is above what this release reads. Nothing of it is guessed. Update dryrack, or write the document for the version named in the notes.",
    example: "dryrack: topology/99",
  },
  "unknown-key": {
    explanation:
      "This key has no meaning at this place. It is refused rather than ignored, since an ignored setting is one that somebody believes in. The message names the nearest valid key; `explain` lists them all.",
    example: "networks:\n  crew: { vlna: 30 }",
  },
  "missing-key": {
    explanation:
      "A key that has no default is missing here, so the entry has no meaning yet. Add it. Where a default exists it is never asked for, and the report shows which one was used.",
    example: "devices:\n  edge: { ports: { wan: 1G } }",
  },
  "unknown-word": {
    explanation:
      "Only certain words have a meaning as this value, and this is not one of them. The message names the nearest valid word, and the notes list all of them.",
    example: "devices:\n  core: { is: swich }",
  },
  "wrong-shape": {
    explanation:
      "The value has another shape than the key asks for: a list where a single value is expected, a mapping where a word is, or the reverse. The message says which shape fits.",
    example: "cables: { edge: core }",
  },
  "trailing-colons": {
    explanation:
      "An IPv6 value that ends in `::` or holds `: ` was not quoted, and YAML took the colon for the end of a key. The text that arrives is not what was meant. Put the address or prefix in double quotes.",
    example: "networks:\n  crew: { ipv6: fd71:: }",
  },
  unreadable: {
    explanation:
      "The file cannot be read: it does not exist, is not a regular file, access is refused, or it is not UTF-8 text. Nothing is concluded about a plan of which a part is missing.",
    example: "# topologies/station/edge.yaml, which only another user may read",
  },
  "outside-repository": {
    explanation:
      "After following links, the path leads out of the repository. Plans are read from inside it only, so that a check of foreign files can never look at the rest of the machine. Copy the file into the repository.",
    example: "# topologies/station/edge.yaml is a link to /home/someone/edge.yaml",
  },
  "keys-conflict": {
    explanation:
      "Two keys that stand together here contradict one another, or a key has no meaning beside the value of another: the speed of LACP on a bond that does not speak it, say. Which one was meant is never guessed. Remove one of them.",
    example: "core:\n  bonds: { pair: { members: [p1, p2], mode: static, speed: fast } }",
  },
  "secret-refused": {
    explanation:
      "The key looks like that of a passphrase, a private key or a community string. A plan needs none: nothing that is checked depends on it, and plans are shown, sent and kept in histories. Remove it, and change the secret if it was ever committed.",
    example: "loft:\n  ssids: { Guest: { radio: band5, network: visitors, passphrase: hidden } }",
  },
} as const;
