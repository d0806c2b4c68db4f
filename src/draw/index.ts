/**
 * The picture of a site, worked out: which networks each cable carries, which ports spanning tree blocks, who joins which
 * radio. `pictureOf` reads the resolved site, the description and a settled world, and answers with plain data;
 * `report/picture/` draws it.
 */
export { type Meant, networkMeant, partsMeant, pathOf } from "./lights.ts";
export { type PictureGround, pictureOf } from "./picture.ts";
export { sheetOf } from "./sheets.ts";
