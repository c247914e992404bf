/** @file Tiles of the daybook's own terrain. */
import TileLayer from "ol/layer/Tile";
import TileImage from "ol/source/TileImage";
import TileGrid from "ol/tilegrid/TileGrid";

export interface GroundGrid {
  ground: string;
  extent_m: [number, number, number, number];
  resolutions_m: number[];
  tile_px: number;
}

export type Relief = "hillshade" | "slope" | "height";

/** Make the layer of one picture of the ground. */
export function groundLayer(grid: GroundGrid, relief: Relief): TileLayer<TileImage> {
  return tilesOf(grid, `tiles/${relief}`, "relief");
}

/** Make the layer of the base map that was set; the server fetches it. */
export function baseMapLayer(grid: GroundGrid, address: string): TileLayer<TileImage> {
  return tilesOf(grid, "base_map", "base-map", address);
}

/** Make the layer of a plan, as it lies since its last change. */
export function planLayer(grid: GroundGrid, id: string, revision: number): TileLayer<TileImage> {
  return tilesOf(grid, `plans/${id}`, "plan", String(revision));
}

/** Tell one version from another in few letters, so that old tiles are not shown for new. */
export function digest(text: string): string {
  let sum = 0x811c9dc5;
  for (const letter of text) sum = Math.imul(sum ^ (letter.codePointAt(0) ?? 0), 0x01000193);
  return (sum >>> 0).toString(36);
}

function tilesOf(
  grid: GroundGrid,
  what: string,
  className: string,
  version = "",
): TileLayer<TileImage> {
  const [west, , , north] = grid.extent_m;
  const source = new TileImage({
    tileGrid: new TileGrid({
      extent: grid.extent_m,
      origin: [west, north],
      resolutions: grid.resolutions_m,
      tileSize: grid.tile_px,
    }),
    url: `/api/ground/${grid.ground}/${what}/{z}/{x}/{y}.png${version && `?v=${digest(version)}`}`,
  });
  return new TileLayer({ source, className });
}
