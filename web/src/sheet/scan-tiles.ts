/** @file A scan's tiles, by the IIIF Image API; left for right where asked, for looking only. */
import IIIFInfo, { type ImageInformationResponse } from "ol/format/IIIFInfo";
import TileLayer from "ol/layer/Tile";
import IIIF from "ol/source/IIIF";

/** Emulsions that a colour picture can be shown by. */
export const EMULSIONS = ["collodion", "gelatin", "orthochromatic"] as const;
export type Emulsion = (typeof EMULSIONS)[number];

export interface Shown {
  channel: "" | "red" | "green" | "blue";
  /** Local contrast, made by the server. */
  local: boolean;
  flipped: boolean;
  /** In the greys that this emulsion would have recorded, made by the server. */
  recorded?: Emulsion | null;
}

/** Turn the address of a tile into that of its mirror image's tile. */
export function mirrored(address: string, width_px: number): string {
  const region = /\/(full|(\d+),(\d+),(\d+),(\d+))\/([^/]+)\/0\//;
  return address.replace(
    region,
    (_, all: string, x: string, y: string, w: string, h: string, size: string) => {
      const there = all === "full" ? all : `${width_px - Number(x) - Number(w)},${y},${w},${h}`;
      return `/${there}/${size}/!0/`;
    },
  );
}

/** Make the layer of a scan from its info.json; `uncover` asks for a covered one. */
export function scanLayer(
  info: ImageInformationResponse,
  shown: Shown,
  version: string,
  uncover = false,
): TileLayer<IIIF> {
  const options = new IIIFInfo(info).getTileSourceOptions();
  if (!options) throw new Error("The scan's description could not be read.");
  const source = new IIIF({ ...options, zDirection: -1 });
  const plain = source.getTileUrlFunction();
  const query = new URLSearchParams();
  if (version) query.set("v", version);
  if (shown.channel) query.set("channel", shown.channel);
  if (shown.local) query.set("local", "true");
  if (shown.recorded) query.set("recorded", shown.recorded);
  if (uncover) query.set("uncover", "true");
  const asked = query.size ? `?${query}` : "";
  const key = `${shown.flipped}${asked}`;
  const width_px = Number(info.width ?? 0);
  source.setTileUrlFunction((coordinate, ratio, projection) => {
    const address = plain(coordinate, ratio, projection);
    if (!address) return undefined;
    return (shown.flipped ? mirrored(address, width_px) : address) + asked;
  }, key);
  return new TileLayer({ source, className: "scan", preload: 1, cacheSize: 256 });
}
