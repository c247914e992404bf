/** @file What others ask of the plate's view. */
import type { Coordinate } from "../sheet/gesture";
import type { Point } from "./lines";

/** Where a pixel of the scan is on the screen. */
export type Place = (at: Point) => Coordinate;

/** A tool in use on the plate; all places are pixels of the scan. */
export interface PlateTool {
  kind: "points" | "stroke";
  cursor: "point" | "move";
  point?: (at: Point) => void;
  stroke?: (points: Point[], done: boolean) => void;
  finish?: () => void;
}

/** What can be asked of the plate's view from outside. */
export interface PlateHandle {
  fit: () => void;
  zoom: (factor: number) => void;
  actualSize: () => void;
  show: (at: Point) => void;
  centre: (at: Point) => void;
  scanAt: (pixel: Coordinate) => Point;
  zoomed: () => number;
  crosshair: () => void;
  focus: () => void;
}
