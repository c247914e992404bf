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
  return tilesOf(grid, `tiles/${relief}`, "relief", 1);
}

/** Make the layer of the base map that was set; the server fetches it. */
export function baseMapLayer(grid: GroundGrid, opacity: number): TileLayer<TileImage> {
  return tilesOf(grid, "base_map", "base-map", opacity);
}

export function planLayer(grid: GroundGrid, planId: string, opacity: number): TileLayer<TileImage> {
  return tilesOf(grid, `plans/${planId}`, "plan", opacity);
}

function tilesOf(
  grid: GroundGrid,
  what: string,
  className: string,
  opacity: number,
): TileLayer<TileImage> {
  const [west, , , north] = grid.extent_m;
  const source = new TileImage({
    tileGrid: new TileGrid({
      extent: grid.extent_m,
      origin: [west, north],
      resolutions: grid.resolutions_m,
      tileSize: grid.tile_px,
    }),
    url: `/api/ground/${grid.ground}/${what}/{z}/{x}/{y}.png`,
  });
  return new TileLayer({ source, className, opacity });
}
