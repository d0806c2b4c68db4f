/**
 * The version of dryrack; a test holds it to package.json.
 */

/** As in package.json. */
export const VERSION = "0.1.0";
