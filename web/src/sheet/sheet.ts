/** @file A sheet that can be moved and looked at closely: the plate and the map are two.
 *
 * OpenLayers brings the tiles and the moving; what people and machine drew lies on a canvas
 * of our own above them, and whatever can be taken hold of is an element of the page.
 */
import OlMap from "ol/Map";
import View from "ol/View";
import { defaults as defaultInteractions } from "ol/interaction/defaults";
import type BaseLayer from "ol/layer/Base";
import Projection from "ol/proj/Projection";

import { isClick, nudgeOf, type Coordinate, type Gesture } from "./gesture";

export interface SheetEvents {
  /** Everything moved: draw again. */
  frame: () => void;
  /** The pointer or crosshair is here, or has left. */
  hover: (at: Coordinate | null) => void;
}

export interface SheetShape {
  extent: [number, number, number, number];
  /** Units of the sheet to a screen pixel, at its closest and farthest. */
  closest: number;
  farthest: number;
}

/** So far the wheel is turned to come twice as near [px]. */
const WHEEL_DOUBLES_PX = 400;
/** Share of the sheet's part in view that an arrow key moves it. */
const PAN_SHARE = 0.08;

export class Sheet {
  readonly map: OlMap;
  readonly canvas: HTMLCanvasElement;
  gesture: Gesture | null = null;
  /** Where the keyboard's crosshair is on the screen, if it is out [px]. */
  crosshair: Coordinate | null = null;

  #view: View | null = null;
  #extent: SheetShape["extent"] = [0, 0, 1, 1];
  #press: Coordinate | null = null;
  #stroke: Coordinate[] | null = null;
  /** Where Enter last set a point: a second time there completes the line. */
  #entered: Coordinate | null = null;
  #abort = new AbortController();
  /** What was last fitted, until a person moved the sheet. */
  #fitted: { extent: SheetShape["extent"]; padding_px: number } | null = null;
  /** The view as the tiles were last drawn: what lies above them must not run ahead. */
  #drawn = { size: [0, 0] as Coordinate, center: [0, 0] as Coordinate, resolution: 1, rotation: 0 };

  constructor(
    readonly target: HTMLElement,
    readonly events: SheetEvents,
  ) {
    this.map = new OlMap({
      target,
      controls: [],
      interactions: defaultInteractions({ keyboard: false, doubleClickZoom: false }),
      layers: [],
      maxTilesLoading: 12,
    });
    this.canvas = document.createElement("canvas");
    this.canvas.className = "drawn";
    target.append(this.canvas);
    this.map.on("postrender", (event) => {
      const state = event.frameState;
      if (!state) return;
      const { center, resolution, rotation } = state.viewState;
      this.#drawn = {
        size: state.size as Coordinate,
        center: center as Coordinate,
        resolution,
        rotation,
      };
      events.frame();
    });
    this.#listen();
  }

  /** Lay out a sheet of some shape, and show all of it. */
  lay(shape: SheetShape, layers: BaseLayer[]): void {
    const projection = new Projection({ code: "sheet", units: "pixels", extent: shape.extent });
    this.#extent = shape.extent;
    this.#view = new View({
      projection,
      extent: grown(shape.extent, 0.5),
      constrainOnlyCenter: true,
      showFullExtent: true,
      smoothExtentConstraint: false,
      minResolution: shape.closest,
      maxResolution: shape.farthest,
      constrainResolution: false,
      center: [(shape.extent[0] + shape.extent[2]) / 2, (shape.extent[1] + shape.extent[3]) / 2],
      resolution: shape.farthest,
    });
    this.map.setLayers(layers);
    this.map.setView(this.#view);
    this.fit();
  }

  setLayers(layers: BaseLayer[]): void {
    this.map.setLayers(layers);
  }

  /** Show all of the sheet, or of a part of it. */
  fit(extent: SheetShape["extent"] = this.#extent, padding_px = 12): void {
    this.map.updateSize();
    const size = this.map.getSize();
    if (!size || !size[0] || !size[1]) return;
    this.#view?.fit(extent, { size, padding: Array(4).fill(padding_px) as number[] });
    this.#fitted = { extent, padding_px };
  }

  get resolution(): number {
    return this.#view?.getResolution() ?? 1;
  }

  get rotation(): number {
    return this.#view?.getRotation() ?? 0;
  }

  get center(): Coordinate {
    return (this.#view?.getCenter() ?? [0, 0]) as Coordinate;
  }

  set center(at: Coordinate) {
    this.#fitted = null;
    this.#view?.setCenter(at);
  }

  turn(to_rad: number): void {
    this.#view?.setRotation(to_rad);
  }

  zoom(factor: number, about?: Coordinate): void {
    const resolution = this.#view?.getConstrainedResolution(this.resolution / factor);
    if (!resolution || !this.#view) return;
    this.#fitted = null;
    this.#view.adjustResolution(resolution / this.resolution, about);
  }

  setResolution(resolution: number): void {
    this.#fitted = null;
    this.#view?.setResolution(resolution);
  }

  /** Bring a place into view without moving more than is needed. */
  show(at: Coordinate): void {
    const pixel = this.toPixel(at);
    const [wide, high] = this.size;
    const edge = 40;
    if (
      pixel &&
      pixel[0] > edge &&
      pixel[1] > edge &&
      pixel[0] < wide - edge &&
      pixel[1] < high - edge
    )
      return;
    this.center = at;
  }

  get size(): Coordinate {
    return (this.map.getSize() ?? [0, 0]) as Coordinate;
  }

  /** Where a place of the sheet is on the screen [px]. */
  toPixel(at: Coordinate): Coordinate | null {
    if (!this.#view) return null;
    const { size, center, resolution, rotation } = this.#drawn;
    const cos = Math.cos(rotation) / resolution;
    const sin = Math.sin(rotation) / resolution;
    const [dx, dy] = [at[0] - center[0], at[1] - center[1]];
    return [size[0] / 2 + dx * cos + dy * sin, size[1] / 2 + dx * sin - dy * cos];
  }

  toSheet(pixel: Coordinate): Coordinate {
    const [wide, high] = this.size;
    const [cx, cy] = this.center;
    const cos = Math.cos(this.rotation) * this.resolution;
    const sin = Math.sin(this.rotation) * this.resolution;
    const [px, py] = [pixel[0] - wide / 2, pixel[1] - high / 2];
    return [cx + px * cos + py * sin, cy + px * sin - py * cos];
  }

  /** Draw on the canvas above the tiles, in screen pixels. */
  draw(paint: (pen: CanvasRenderingContext2D) => void): void {
    const ratio = devicePixelRatio;
    const [wide, high] = this.#drawn.size;
    const [w, h] = [Math.round(wide * ratio), Math.round(high * ratio)];
    if (this.canvas.width !== w || this.canvas.height !== h) {
      this.canvas.width = w;
      this.canvas.height = h;
    }
    const pen = this.canvas.getContext("2d");
    if (!pen) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, wide, high);
    paint(pen);
    if (this.crosshair) paintCrosshair(pen, this.crosshair, [wide, high]);
  }

  render(): void {
    this.map.render();
  }

  /** Take the target's new size; what was shown whole is shown whole again. */
  resized(): void {
    this.map.updateSize();
    if (this.#fitted) this.fit(this.#fitted.extent, this.#fitted.padding_px);
  }

  destroy(): void {
    this.#abort.abort();
    this.canvas.remove();
    this.map.setTarget(undefined);
    this.map.dispose();
  }

  #listen(): void {
    const { target } = this;
    const { signal } = this.#abort;
    const on = <K extends keyof HTMLElementEventMap>(
      name: K,
      act: (event: HTMLElementEventMap[K]) => void,
    ): void => target.addEventListener(name, act, { capture: true, signal });
    on("wheel", (event) => this.#wheel(event));
    on("pointerdown", (event) => this.#down(event));
    on("pointermove", (event) => this.#move(event));
    on("pointerup", (event) => this.#up(event));
    on("pointerleave", () => this.events.hover(null));
    on("dblclick", () => this.gesture?.finish?.());
    target.addEventListener("keydown", (event) => this.#key(event), { signal });
  }

  #at(event: MouseEvent): Coordinate {
    const box = this.target.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  #mine(event: PointerEvent): boolean {
    return event.button === 0 && !(event.target as Element).closest("[data-own]");
  }

  /** Zoom over what lies above the tiles, where the library does not see the wheel. */
  #wheel(event: WheelEvent): void {
    this.#fitted = null;
    if (!(event.target as Element).closest("[data-own]")) return;
    event.preventDefault();
    this.zoom(2 ** (-event.deltaY / WHEEL_DOUBLES_PX), this.toSheet(this.#at(event)));
  }

  #down(event: PointerEvent): void {
    if (!this.#mine(event)) return;
    const at = this.#at(event);
    this.#press = at;
    if (this.gesture?.kind !== "stroke") return;
    event.stopPropagation();
    this.target.setPointerCapture(event.pointerId);
    this.#stroke = [this.toSheet(at)];
    this.gesture.stroke?.(this.#stroke, false);
  }

  #move(event: PointerEvent): void {
    const at = this.#at(event);
    this.events.hover(this.toSheet(at));
    if (this.#press && !isClick(this.#press, at)) this.#fitted = null;
    if (!this.#stroke) return;
    event.stopPropagation();
    this.#stroke.push(this.toSheet(at));
    this.gesture?.stroke?.(this.#stroke, false);
  }

  #up(event: PointerEvent): void {
    const press = this.#press;
    this.#press = null;
    if (this.#stroke) {
      event.stopPropagation();
      this.#endStroke();
    } else if (press && this.#mine(event) && isClick(press, this.#at(event))) {
      this.gesture?.point?.(this.toSheet(press));
    }
  }

  #endStroke(): void {
    const stroke = this.#stroke;
    this.#stroke = null;
    if (stroke) this.gesture?.stroke?.(stroke, true);
  }

  /** Put the crosshair out, or take it in. */
  toggleCrosshair(): void {
    const [wide, high] = this.size;
    this.#stroke = null;
    this.crosshair = this.crosshair ? null : [wide / 2, high / 2];
    this.events.hover(this.crosshair ? this.toSheet(this.crosshair) : null);
    this.render();
  }

  #key(event: KeyboardEvent): void {
    if (event.target !== this.target) return;
    const nudge = nudgeOf(event);
    if (nudge) {
      event.preventDefault();
      if (this.crosshair) this.#nudge(nudge);
      else this.#pan(nudge);
    } else if (event.key === "+" || event.key === "=") this.zoom(1.5);
    else if (event.key === "-") this.zoom(1 / 1.5);
    else if (event.key === "0") this.fit();
    else if (event.key === "x") this.toggleCrosshair();
    else if (event.key === "Enter") this.#enter();
    else if (event.key === "Backspace") return;
    else return;
    event.stopPropagation();
  }

  #pan([dx, dy]: Coordinate): void {
    const [wide, high] = this.size;
    const middle: Coordinate = [
      wide / 2 + Math.sign(dx) * wide * PAN_SHARE,
      high / 2 + Math.sign(dy) * high * PAN_SHARE,
    ];
    this.center = this.toSheet(middle);
  }

  #nudge([dx, dy]: Coordinate): void {
    if (!this.crosshair) return;
    const [wide, high] = this.size;
    this.crosshair = [
      Math.min(wide, Math.max(0, this.crosshair[0] + dx)),
      Math.min(high, Math.max(0, this.crosshair[1] + dy)),
    ];
    const at = this.toSheet(this.crosshair);
    this.events.hover(at);
    if (this.#stroke) {
      this.#stroke.push(at);
      this.gesture?.stroke?.(this.#stroke, false);
    }
    this.render();
  }

  #enter(): void {
    if (!this.crosshair) {
      this.gesture?.finish?.();
      return;
    }
    const at = this.toSheet(this.crosshair);
    if (this.gesture?.kind === "points") {
      const again = this.#entered && isClick(this.#entered, this.crosshair);
      this.#entered = again ? null : this.crosshair;
      if (again && this.gesture.finish) this.gesture.finish();
      else this.gesture.point?.(at);
    }
    if (this.gesture?.kind === "stroke") {
      if (this.#stroke) this.#endStroke();
      else {
        this.#stroke = [at];
        this.gesture.stroke?.(this.#stroke, false);
      }
    }
  }
}

function grown([w, s, e, n]: SheetShape["extent"], by: number): SheetShape["extent"] {
  const [dx, dy] = [(e - w) * by, (n - s) * by];
  return [w - dx, s - dy, e + dx, n + dy];
}

function paintCrosshair(
  pen: CanvasRenderingContext2D,
  [x, y]: Coordinate,
  [wide, high]: Coordinate,
): void {
  const hole = 7;
  for (const [colour, width] of [
    ["#f7f4ee", 3],
    ["#2a2926", 1],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.setLineDash([]);
    pen.beginPath();
    pen.moveTo(0, y);
    pen.lineTo(x - hole, y);
    pen.moveTo(x + hole, y);
    pen.lineTo(wide, y);
    pen.moveTo(x, 0);
    pen.lineTo(x, y - hole);
    pen.moveTo(x, y + hole);
    pen.lineTo(x, high);
    pen.stroke();
  }
}
