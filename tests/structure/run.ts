/** `npm run structure`: checks the tree on disk, prints one line a violation, exits 1 where there is any. */
import { checkStructure, describeViolation } from "./rules.ts";
import { readSourceTree } from "./source-tree.ts";

const tree = readSourceTree(process.cwd());
const violations = checkStructure(tree);
for (const violation of violations) console.log(describeViolation(violation));
console.log(`structure: ${tree.size} files, ${violations.length} violations`);
process.exitCode = violations.length > 0 ? 1 : 0;
