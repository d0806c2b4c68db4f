/**
 * The page: one file that shows a run or a comparison to a colleague. It holds no script and asks for nothing: tables, proofs
 * and witnesses are joined by links within the page, proofs are folded by the browser itself.
 *
 * Markup is a value of its own (`html.ts`): whatever is a string is text of somebody and is escaped. Places that links lead to
 * are numbers, never text. Same run, same bytes.
 */
export { renderComparisonPage } from "./comparison-page.ts";
export { renderRunPage } from "./run-page.ts";
export { renderSheetHtml } from "./sheet-page.ts";
