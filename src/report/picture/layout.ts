/**
 * Where everything stands. A picture is laid out once; what is lit on it does not move anything.
 */
import type { SitePicture } from "../../result/index.ts";

/** What belongs to the layout. */
export type LayoutOptions = {
  /** Shows the addresses of devices. Default: false. */
  readonly addresses?: boolean;
};

/** A picture with the place of everything. */
export type PictureLayout = {
  /** What is drawn. */
  readonly picture: SitePicture;
  /** Whether addresses are shown. */
  readonly addresses: boolean;
};

/** Lays out a picture. */
export async function layoutPicture(
  picture: SitePicture,
  { addresses = false }: LayoutOptions = {},
): Promise<PictureLayout> {
  return { picture, addresses };
}
